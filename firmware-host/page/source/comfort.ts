// comfort.ts: what the phone itself does: keeps its screen awake, sounds, shakes, is bright or dark.
//
// Remembered  in this browser, none of it of the survey: sound, vibration, light, at which edge its person stands, who they are.
// Screen      by navigator.wakeLock where the page's address is one that browsers trust (https, or this very machine);
//             elsewhere browsers refuse it, and a tiny muted video, which must be visible, does what it can from the first touch.
// Sound       only after a touch: browsers allow none before.
import {useReducer, useLayoutEffect} from "preact/hooks";

export type Side = "" | "left" | "right";
export type Light = "auto" | "sun" | "dark";
export type Awake = "lock" | "video" | "touch" | "no";

function remembered(key: string, otherwise: string): string {
  try {
    return localStorage.getItem("hangtrue." + key) ?? otherwise;
  } catch {
    return otherwise;  // storage is switched off
  }
}
function remember(key: string, value: string): void {
  try {
    localStorage.setItem("hangtrue." + key, value);
  } catch {
    // Then it lasts as long as the page.
  }
}

export const comfort = {
  sound: remembered("sound", "on") === "on",
  vibration: remembered("vibration", "on") === "on",
  light: remembered("light", "auto") as Light,
  side: remembered("side", "") as Side,
  readBy: remembered("read_by", ""),
  checkedBy: remembered("checked_by", ""),
  awake: "touch" as Awake,
};
export const canVibrate = "vibrate" in navigator;

const lookers = new Set<() => void>();
const changed = () => lookers.forEach(look => look());
export function useComfort(): typeof comfort {
  const [, draw] = useReducer<number, void>(count => count + 1, 0);
  useLayoutEffect(() => {
    lookers.add(draw as () => void);
    return () => void lookers.delete(draw as () => void);
  }, []);
  return comfort;
}

export function setSound(on: boolean): void {
  comfort.sound = on;
  remember("sound", on ? "on" : "off");
  if (on) tones();
  changed();
}
export function setVibration(on: boolean): void {
  comfort.vibration = on;
  remember("vibration", on ? "on" : "off");
  if (on) shake();
  changed();
}
export function setLight(light: Light): void {
  comfort.light = light;
  remember("light", light);
  showLight();
  changed();
}

export function setSide(side: Side): void {
  comfort.side = side;
  remember("side", side);
  changed();
}
export function setPersons(readBy: string, checkedBy: string): void {
  [comfort.readBy, comfort.checkedBy] = [readBy, checkedBy];
  remember("read_by", readBy);
  remember("checked_by", checkedBy);
}

function showLight(): void {
  if (comfort.light === "auto") delete document.documentElement.dataset.light;
  else document.documentElement.dataset.light = comfort.light;
}

// ---- settled --------------------------------------------------------------------------------------------------------

let audio: AudioContext | null = null, touched = false;

function tones(): void {
  if (!audio || audio.state !== "running") return;
  for (const [after, hertz] of [[0, 880], [0.13, 1320]] as const) {
    const begin = audio.currentTime + after, tone = audio.createOscillator(), loud = audio.createGain();
    tone.frequency.value = hertz;
    loud.gain.setValueAtTime(0, begin);
    loud.gain.linearRampToValueAtTime(0.4, begin + 0.01);  // without a click
    loud.gain.setTargetAtTime(0, begin + 0.07, 0.02);
    tone.connect(loud).connect(audio.destination);
    tone.start(begin);
    tone.stop(begin + 0.2);
  }
}
function shake(): void {
  if (touched && canVibrate) navigator.vibrate([60, 50, 60]);
}

export function tellSettled(): void {
  if (comfort.sound) tones();
  if (comfort.vibration) shake();
}

// ---- screen ---------------------------------------------------------------------------------------------------------

let video: HTMLVideoElement | null = null;

function awakeIs(how: Awake): void {
  comfort.awake = how;
  changed();
}

async function holdScreen(): Promise<void> {
  if (document.visibilityState !== "visible" || comfort.awake === "lock") return;
  if (window.isSecureContext && "wakeLock" in navigator) {
    try {
      const lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => awakeIs("touch"));
      return awakeIs("lock");
    } catch {
      // Refused, by a low battery for one: by video then.
    }
  }
  if (touched) await playVideo();
}

async function playVideo(): Promise<void> {
  if (video && !video.paused) return;
  const canvas = document.createElement("canvas"), context = canvas.getContext("2d");
  if (!context || !("captureStream" in canvas)) return awakeIs("no");
  canvas.width = canvas.height = 8;
  let count = 0;
  const draw = () => {
    context.fillStyle = ++count % 2 ? "#555" : "#777";  // a picture that never changes is no video
    context.fillRect(0, 0, 8, 8);
  };
  draw();
  if (!video) {
    setInterval(draw, 1000);
    video = document.createElement("video");
    video.className = "awake";
    video.muted = video.playsInline = true;
    video.tabIndex = -1;
    video.setAttribute("aria-hidden", "true");
    video.srcObject = canvas.captureStream(1);
    document.body.append(video);
  }
  try {
    await video.play();
    awakeIs("video");
  } catch {
    awakeIs("no");
  }
}

export function startComfort(): void {
  showLight();
  const touch = () => {
    touched = true;
    audio ??= "AudioContext" in window ? new AudioContext() : null;
    if (audio?.state === "suspended") void audio.resume();
    void holdScreen();
  };
  document.addEventListener("pointerup", touch);
  document.addEventListener("keydown", touch);
  document.addEventListener("visibilitychange", () => void holdScreen());
  void holdScreen();
}
