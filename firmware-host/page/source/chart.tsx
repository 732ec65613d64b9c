// chart.tsx: axes, lines and bands over the length of the run, in pixels, so that letters keep their size.
import {tickStep, ticks} from "d3-array";
import type {ComponentChildren} from "preact";

import type {Job} from "./messages";
import {texts} from "./texts";

export const kLeft = 58, kRight = 24, kTop = 12, kStrip = 26;

export interface Frame {
  width: number;
  x: (at_m: number) => number;
  y: (value: number) => number;  // SI
  top: number;
  bottom: number;
}

/// `values`: everything that must fit in, SI.
export function frame(job: Job, width: number, height: number, values: number[]): Frame {
  let low = Math.min(...values), high = Math.max(...values);
  if (!(high - low > 1e-9)) [low, high] = [low - 5e-5, high + 5e-5];
  const room = 0.06 * (high - low), bottom = kTop + height;
  low -= room;
  high += room;
  return {
    width, top: kTop, bottom,
    x: at => kLeft + ((width - kLeft - kRight) * at) / job.length_m,
    y: value => bottom - (height * (value - low)) / (high - low),
  };
}

/// How many times larger heights are drawn than places.
export function times(in_: Frame): number {
  return (in_.y(0) - in_.y(1)) / (in_.x(1) - in_.x(0));
}

export const line = (in_: Frame, points: {at_m: number}[], value: (i: number) => number) =>
    "M" + points.map((each, i) => `${in_.x(each.at_m).toFixed(1)} ${in_.y(value(i)).toFixed(1)}`).join("L");

export const band = (in_: Frame, points: {at_m: number}[], low: (i: number) => number, high: (i: number) => number) =>
    line(in_, points, high) + "L" + [...points].reverse().map((each, i) =>
        `${in_.x(each.at_m).toFixed(1)} ${in_.y(low(points.length - 1 - i)).toFixed(1)}`).join("L") + "z";

function placeTicks(job: Job, most: number): number[] {
  const length = job.length_m * job.units.places_per_m;
  if (job.units.place !== "in") return ticks(0, length, most);
  const step = [6, 12, 24, 36, 48, 60, 96, 120, 240].find(each => length / each <= most + 0.5) ?? 480;
  return Array.from({length: Math.floor(length / step) + 1}, (_, i) => i * step);
}

/// The axes; `unit` and `per` of the values drawn. Children lie over them; `strip`: room below, for supports.
export function Axes({in_, job, unit, per, strip = 0, children}:
    {in_: Frame; job: Job; unit: string; per: number; strip?: number; children: ComponentChildren}) {
  const {width, top, bottom} = in_, slope = (in_.y(0) - in_.y(1)) / per;
  const value = (y: number) => (in_.y(0) - y) / slope;
  const low = value(bottom), high = value(top), count = (bottom - top) / 44;
  const step = tickStep(low, high, count), decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  const end = bottom + strip;
  return <>
    {ticks(low, high, count).map(each => <g key={each}>
      <path class={Math.abs(each) < step / 1e6 ? "axis-zero" : "grid"} d={`M${kLeft} ${in_.y(each / per)}H${width - kRight}`} />
      <text x={kLeft - 8} y={in_.y(each / per) + 5.5} text-anchor="end">{each.toFixed(decimals).replace(/^-(0(\.0*)?)$/, "$1")}</text>
    </g>)}
    <path class="axis" d={`M${kLeft} ${top}V${bottom}H${width - kRight}`} />
    {placeTicks(job, width / 90).map(each => <g key={each}>
      <path class="axis" d={`M${in_.x(each / job.units.places_per_m)} ${end}v6`} />
      <text x={in_.x(each / job.units.places_per_m)} y={end + 23} text-anchor="middle">{each}</text>
    </g>)}
    {strip > 0 && <path class="axis" d={`M${kLeft} ${end}H${width - kRight}`} />}
    {children}
    <title>{unit}</title>
  </>;
}

export function Legend({items}: {items: [sample: ComponentChildren, words: string][]}) {
  return <ul class="legend">{items.map(([sample, words]) =>
    <li key={words}><svg width="44" height="20" aria-hidden="true">{sample}</svg><span>{words}</span></li>)}</ul>;
}

export const sample = (kind: string) => <path class={kind} d="M2 10h40" />;
export const factorWords = (in_: Frame) => texts.run.factor(texts.factor(times(in_)));
