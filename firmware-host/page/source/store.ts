// store.ts: what the page knows, all of it from the daemon, and the one connection it comes over.
//
// State    topics as they came, the latest whole. Nothing is kept in the page alone: a page loaded anew shows the same.
// Drawing  a component asks for its part with useShown(); it is drawn again when that part has changed, at most once a frame.
// Lost     a connection that fell silent shows nothing as live any more (kQuiet), and is asked for a small file; no answer in kProbePatience: it counts as lost.
//          A lost one is tried again after 0.3 s, doubling to 3 s; at once when the phone says that it is back.
// Asking   one command at a time, but `give up`, which ends what is waited for. Each says when it was pressed, on the daemon's clock,
//          so that one which comes late is refused. What was not answered before a connection broke is asked again, by the same
//          number, once there is another to the same daemon: it is not obeyed twice, and the answer says what became of it.
// Pressing a press does what its button says, or it is refused in words that stay until they are dismissed, or until another
//          press is taken. None is lost.
import {options} from "preact";
import {useEffect, useLayoutEffect, useReducer, useRef} from "preact/hooks";

import {kDone, kDrift, kFirstDelay, kJustTaken, kLongestDelay, kLook, kPatience, kProbePatience, kQuiet, kTrend, kTrendGap, kTrendStep} from "./limits";
import type {Answer, Asked, Live, Topics} from "./messages";
import {speak, texts} from "./texts";


export interface Shown {
  topics: Topics;
  link: "connecting" | "connected" | "lost";
  quiet: boolean;   // connected, and yet nothing came for kQuiet
  lostFor: number;  // s, since the last frame
  ended: boolean;  // lost because the daemon ended
  asked: Asked | null;  // waits for its answer
  undone: string;  // the take that the last thing done here took back, where it did
  justTaken: boolean;  // a take has just been done: what presses again may be the same finger
  refused: string;
  // `refused` is by the daemon; by the page; or no answer came so far; or it is no refusal: it was done, and said so late
  refusal: "of the daemon" | "of a press" | "not known" | "done late";
  done: string;  // what was done last, until something else is asked; empty after kDone
}

export const shown: Shown = {topics: {}, link: "connecting", quiet: false, lostFor: 0, ended: false, asked: null, undone: "", justTaken: false, refused: "", refusal: "of the daemon", done: ""};

/// Nothing that is shown is live: the connection is lost, or nothing comes over it.
export const isOld = (from: Shown) => from.link === "lost" || from.quiet;

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
let delay = kFirstDelay, retry = 0, lostAt = 0, lastFrame = 0, probing = false, build = "", begun = "";
let broke: Asked | null = null;  // what was not answered before the connection broke

function connect(): void {
  clearTimeout(retry);
  const mine = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/live`);
  socket = mine;
  const patience = setTimeout(() => mine === socket && lose(), kPatience);
  mine.onmessage = event => {
    if (mine !== socket) return;
    clearTimeout(patience);
    lastFrame = performance.now();
    probing = false;
    if (typeof event.data === "string") take(JSON.parse(event.data) as Topics);
  };
  mine.onclose = event => {
    clearTimeout(patience);
    if (mine !== socket) return;
    if (event.code === 1001) shown.ended = true;
    lose();
  };
}

// Of the daemon's clock over this phone's, ms. The quickest frame tells it best. What it told fades, since clocks drift, and that of
// a phone that sleeps may stand still.
let ahead: number | null = null, toldAt = 0;
function learnClock(theirs: number): void {
  const here = performance.now();
  ahead = Math.max(theirs - here, ahead === null ? -Infinity : ahead - kDrift * (here - toldAt));
  toldAt = here;
}

function take(frame: Topics): void {
  const {answer, clock, ...topics} = frame;
  let same = true;
  if (topics.job) {
    if (build && topics.job.build !== build) return location.reload();
    build = topics.job.build;
    same = topics.job.begun === begun;
    if (!same) ahead = null;
    begun = topics.job.begun;
    if (speak(topics.job.language)) document.documentElement.lang = texts.document.lang;
  }
  if (clock) learnClock(clock.now_ms);
  // The first frame after a break has every topic: what is not in it is no more.
  shown.topics = shown.link === "connected" ? {...shown.topics, ...topics} : topics;
  shown.link = "connected";
  shown.quiet = false;
  shown.lostFor = 0;
  shown.ended = false;
  if (topics.live) keepTrends(topics.live);
  if (broke && same) {
    askAgain(broke);
  } else if (broke) {
    refuse(texts.link.holds(broke.command, shown.topics.readings?.last || texts.now.nothingTaken), "not known");
    broke = null;
  }
  lostAt = 0;
  delay = kFirstDelay;
  if (answer) settle(answer);
  changed();
}

// ---- trends: of instruments that stay -------------------------------------------------------------------------------

export interface TrendPoint {  // of kTrendStep
  at: number;  // ms, on the page's clock
  range: {low: number; high: number} | null;  // SI; null: nothing came
}
const trends = new Map<string, TrendPoint[]>();
/// What such a channel gave within the last minute, the oldest first.
export const trendOf = (instrument: string, gives: string): TrendPoint[] => trends.get(`${instrument}\n${gives}`) ?? [];

function keepTrends(live: Live): void {
  const at = performance.now();
  for (const each of live.instruments)
    for (const channel of each.channels) {
      if (channel.stays_at_m === null) continue;
      const key = `${each.name}\n${channel.gives}`, points = trends.get(key) ?? [], {value} = channel;
      const last = points[points.length - 1];
      if (last?.range && value !== null && at - last.at < kTrendStep) {
        last.range.low = Math.min(last.range.low, value);
        last.range.high = Math.max(last.range.high, value);
        continue;
      }
      if (last && at - last.at > kTrendGap) points.push({at, range: null});
      if (value !== null || last?.range) points.push({at, range: value === null ? null : {low: value, high: value}});
      while (points.length > 0 && at - points[0]!.at > kTrend) points.shift();
      trends.set(key, points);
    }
}

function lose(): void {
  const had = socket;
  socket = null;
  had?.close();
  if (shown.asked) {
    broke = shown.asked;
    refuse(texts.link.broke(broke.command), "not known");
    shown.asked = null;
    finish(false);
  }
  lostAt ||= lastFrame || performance.now();
  shown.link = "lost";
  shown.quiet = false;
  probing = false;
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
  } catch {
    if (asked && asked === socket) lose();
  } finally {
    clearTimeout(patience);
    probing = false;
  }
}

function tellAge(now: number): void {
  const quiet = !lostAt && shown.link === "connected" && now - lastFrame > kQuiet;
  const seconds = quiet || lostAt ? Math.floor((now - lastFrame) / 1000) : 0;
  if (quiet === shown.quiet && seconds === shown.lostFor) return;
  shown.quiet = quiet;
  shown.lostFor = seconds;
  changed();
}

export function start(): void {
  connect();
  setInterval(() => {
    const now = performance.now();
    tellAge(now);
    if (!shown.quiet || probing) return;
    probing = true;  // one at a time
    void probe();
  }, kLook);
  window.addEventListener("online", tryNow);
  window.addEventListener("offline", () => void probe());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && tryNow());
}

// ---- asking ---------------------------------------------------------------------------------------------------------

let lastId = 0, isAgain = false, taken = "";  // taken: what was taken last when that was asked
const name = [...crypto.getRandomValues(new Uint32Array(4))].map(part => part.toString(36)).join("-");
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
  const pressed_ms = ahead === null ? null : Math.round(performance.now() + ahead);
  const asked: Asked = {id: ++lastId, command, seen, pressed_ms, page: name};
  socket.send(JSON.stringify(asked));
  if (command === "give up" && (shown.asked || shown.topics.work?.doing)) return Promise.resolve(true);
  shown.asked = asked;
  shown.refused = "";
  shown.done = "";
  taken = shown.topics.readings?.last_place ?? "";
  broke = null;
  isAgain = false;
  changed();
  return new Promise(resolve => (finish = resolve));
}

function askAgain(asked: Asked): void {
  socket?.send(JSON.stringify(asked));
  shown.asked = asked;
  broke = null;
  isAgain = true;
  finish = () => undefined;  // whoever waited was told that it broke
  refuse(texts.link.asksAgain(asked.command), "not known");
}

let doneFor = 0;
function tellDone(words: string): void {
  shown.done = words;
  clearTimeout(doneFor);
  doneFor = window.setTimeout(forgetDone, kDone);
}
export function forgetDone(): void {
  shown.done = "";
  changed();
}

function settle(answer: Answer): void {
  if (!answer.done) refuse(answer.words, "of the daemon");
  if (answer.id !== shown.asked?.id) return;
  if (answer.done) {
    shown.undone = shown.asked.command === "undo" ? taken : "";
    tellDone(texts.done(shown.asked.command, answer.words));
  }
  if (answer.done && isAgain) refuse(texts.link.wasDone(shown.asked.command, answer.words), "done late");
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

/// One after the other, each once what the former changed is seen, where they change what is decided by; ends at the first that is
/// refused.
export async function askAll(commands: string[], change = true): Promise<boolean> {
  for (const [i, command] of commands.entries()) {
    const before = seenNow();
    if (!(await ask(command))) return false;
    if (change && i + 1 < commands.length && !(await until(() => seenNow() !== before))) return false;
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
  shown.refused = "";
  changed();
}
