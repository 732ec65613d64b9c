// store.ts: what the page knows, all of it from the daemon, and the one connection it comes over.
//
// State    topics as they came, the latest whole. Nothing is kept in the page alone: a page loaded anew shows the same.
// Drawing  a component asks for its part with useShown(); it is drawn again when that part has changed, at most once a frame.
// Lost     a connection that fell silent is asked for a small file; no answer in kProbePatience: it counts as lost.
//          A lost one is tried again after 0.3 s, doubling to 3 s; at once when the phone says that it is back.
// Asking   one command at a time, but `give up`, which ends what is waited for.
// Pressing a press does what its button says, or it is refused in words that stay until they are dismissed, or until another
//          press is taken. None is lost.
import {options} from "preact";
import {useEffect, useLayoutEffect, useReducer, useRef} from "preact/hooks";

import {kFirstDelay, kJustTaken, kLongestDelay, kPatience, kProbePatience, kQuiet} from "./limits";
import type {Answer, Asked, Topics} from "./messages";
import {texts} from "./texts";


export interface Shown {
  topics: Topics;
  link: "connecting" | "connected" | "lost";
  lostFor: number;  // s
  ended: boolean;  // lost because the daemon ended
  asked: Asked | null;  // waits for its answer
  justTaken: boolean;  // a take has just been done: what presses again may be the same finger
  refused: string;
  refusal: "of the daemon" | "of a press" | "not known";  // `refused` is by the daemon; by the page; or no answer ever came
  done: string;  // words of the last answer that was no refusal
}

export const shown: Shown = {topics: {}, link: "connecting", lostFor: 0, ended: false, asked: null, justTaken: false, refused: "", refusal: "of the daemon", done: ""};

options.debounceRendering = draw => requestAnimationFrame(draw);

const lookers = new Set<() => void>();
function changed(): void {
  for (const look of lookers) look();
}

/// The selected part; drawn again when it is another. Objects out of topics are others when their topic came anew.
export function useShown<T>(select: (from: Shown) => T): T {
  const [, draw] = useReducer<number, void>(count => count + 1, 0);
  const value = select(shown);
  const last = useRef({value, select});
  last.current = {value, select};
  useLayoutEffect(() => {
    const look = () => {
      const now = last.current.select(shown);
      if (Object.is(now, last.current.value)) return;
      last.current.value = now;
      draw();
    };
    lookers.add(look);
    look();
    return () => void lookers.delete(look);
  }, []);
  return value;
}

/// Calls `then` with the selected part whenever it is another, drawn or not.
export function useChange<T>(select: (from: Shown) => T, then: (now: T, before: T) => void): void {
  const last = useRef({select, then});
  last.current = {select, then};
  useEffect(() => {
    let before = last.current.select(shown);
    const look = () => {
      const now = last.current.select(shown);
      if (Object.is(now, before)) return;
      const former = before;
      before = now;
      last.current.then(now, former);
    };
    lookers.add(look);
    return () => void lookers.delete(look);
  }, []);
}

// ---- connection -----------------------------------------------------------------------------------------------------

let socket: WebSocket | null = null;
let delay = kFirstDelay, retry = 0, lostAt = 0, lastFrame = 0, build = "", broke = "";

function connect(): void {
  clearTimeout(retry);
  const mine = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/live`);
  socket = mine;
  const patience = setTimeout(() => mine === socket && lose(), kPatience);
  mine.onmessage = event => {
    if (mine !== socket) return;
    clearTimeout(patience);
    lastFrame = performance.now();
    if (typeof event.data === "string") take(JSON.parse(event.data) as Topics);
  };
  mine.onclose = event => {
    clearTimeout(patience);
    if (mine !== socket) return;
    if (event.code === 1001) shown.ended = true;
    lose();
  };
}

function take(frame: Topics): void {
  const {answer, ...topics} = frame;
  if (topics.job) {
    if (build && topics.job.build !== build) return location.reload();
    build = topics.job.build;
  }
  // The first frame after a break has every topic: what is not in it is no more.
  shown.topics = shown.link === "connected" ? {...shown.topics, ...topics} : topics;
  shown.link = "connected";
  shown.lostFor = 0;
  shown.ended = false;
  if (broke && shown.topics.readings) {
    refuse(texts.link.holds(broke, shown.topics.readings.last || texts.now.nothingTaken), "not known");
    broke = "";
  }
  lostAt = 0;
  delay = kFirstDelay;
  if (answer) settle(answer);
  changed();
}

function lose(): void {
  const had = socket;
  socket = null;
  had?.close();
  if (shown.asked) {
    broke = shown.asked.command;
    refuse(texts.link.broke(broke), "not known");
    shown.asked = null;
    finish(false);
  }
  lostAt ||= performance.now();
  shown.link = "lost";
  changed();
  retry = window.setTimeout(connect, delay);
  delay = Math.min(2 * delay, kLongestDelay);
  // Refused because this phone is no longer paired: the daemon's own page for that.
  void fetch("/icon.svg", {cache: "no-store"}).then(
      response => response.status === 401 && location.reload(), () => undefined);
}

function tryNow(): void {
  if (shown.link === "connected") return void probe();
  if (socket) return;
  delay = kFirstDelay;
  connect();
}

async function probe(): Promise<void> {
  const asked = socket, giveUp = new AbortController();
  const patience = setTimeout(() => giveUp.abort(), kProbePatience);
  try {
    await fetch("/icon.svg", {cache: "no-store", signal: giveUp.signal});
    lastFrame = performance.now();
  } catch {
    if (asked && asked === socket) lose();
  } finally {
    clearTimeout(patience);
  }
}

export function start(): void {
  connect();
  setInterval(() => {
    const now = performance.now();
    if (lostAt) {
      const seconds = Math.floor((now - lostAt) / 1000);
      if (seconds !== shown.lostFor) {
        shown.lostFor = seconds;
        changed();
      }
    } else if (shown.link === "connected" && now - lastFrame > kQuiet) {
      lastFrame = now;  // one probe at a time
      void probe();
    }
  }, 500);
  window.addEventListener("online", tryNow);
  window.addEventListener("offline", () => void probe());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && tryNow());
}

// ---- asking ---------------------------------------------------------------------------------------------------------

let lastId = 0;
let finish: (done: boolean) => void = () => undefined;

/// Why nothing can be asked now; empty: it can.
export function blocked(from: Shown): string {
  if (from.link !== "connected") return texts.link.blocked;
  if (from.topics.work?.doing) return texts.link.blockedByTake;
  return from.asked ? texts.link.blockedByAsking : "";
}

/// The revision that the person sees now.
export const seenNow = () => shown.topics.work?.revision ?? 0;

function refuse(words: string, refusal: Shown["refusal"]): void {
  [shown.refused, shown.refusal] = [words, refusal];
  changed();
}

/// A press that does nothing now, and why.
export const refusePress = (why: string) => refuse(why, "of a press");
/// One that does something: why a former one did not is no news any more.
export function takePress(): void {
  if (shown.refused && shown.refusal === "of a press") dismiss();
}

/// Sends a command, decided by what was seen at that revision. Whether it was done; what was refused is shown until dismissed.
export function ask(command: string, seen = seenNow()): Promise<boolean> {
  const open = socket?.readyState === WebSocket.OPEN;
  if (!socket || !open || (blocked(shown) && command !== "give up")) {
    refusePress(open ? blocked(shown) : texts.link.blocked);
    return Promise.resolve(false);
  }
  const asked = {id: ++lastId, command, seen};
  socket.send(JSON.stringify(asked));
  if (command === "give up" && (shown.asked || shown.topics.work?.doing)) return Promise.resolve(true);
  shown.asked = asked;
  shown.refused = broke = "";
  changed();
  return new Promise(resolve => (finish = resolve));
}

function settle(answer: Answer): void {
  if (!answer.done) refuse(answer.words, "of the daemon");
  if (answer.id !== shown.asked?.id) return;
  if (answer.done) shown.done = answer.words;
  if (answer.done && (shown.asked.command === "take" || shown.asked.command === "take fixed")) {
    shown.justTaken = true;
    setTimeout(() => {
      shown.justTaken = false;
      changed();
    }, kJustTaken);
  }
  shown.asked = null;
  finish(answer.done);
}

/// One after the other, each once what the former changed is seen; ends at the first that is refused.
export async function askAll(commands: string[]): Promise<boolean> {
  for (const [i, command] of commands.entries()) {
    const before = seenNow();
    if (!(await ask(command))) return false;
    if (i + 1 < commands.length && !(await until(() => seenNow() !== before))) return false;
  }
  return true;
}

function until(is: () => boolean): Promise<boolean> {
  return new Promise(resolve => {
    const end = (reached: boolean) => {
      clearTimeout(patience);
      lookers.delete(look);
      resolve(reached);
    };
    const look = () => is() && end(true);
    const patience = setTimeout(() => end(false), kPatience);
    lookers.add(look);
    look();
  });
}

export function dismiss(): void {
  shown.refused = broke = "";
  changed();
}
