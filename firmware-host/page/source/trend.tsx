// trend.tsx: what an instrument that stays gave within the last minute, as a line: a gust or a footstep shows as unrest.
//
// Scale  about the middle of what is drawn; never finer than kLeast, so that what is still looks still.
import type {LiveChannel} from "./messages";
import {kTrend} from "./limits";
import {trendOf} from "./store";
import {texts} from "./texts";

const kWidth = 120, kHeight = 36;
// Half of the height at the least, rad and m. No source: several times what instruments of this trade scatter by at rest.
const kLeast: {[gives: string]: number} = {slope: 0.3e-3, roll: 0.3e-3, distance: 1e-3};

export function TrendLine({instrument, channel}: {instrument: string; channel: LiveChannel}) {
  const points = trendOf(instrument, channel.gives), now = points.length ? points[points.length - 1]!.at : 0;
  const ranges = points.flatMap(each => (each.range ? [each.range] : []));
  const low = Math.min(...ranges.map(each => each.low)), high = Math.max(...ranges.map(each => each.high)), middle = (low + high) / 2;
  const half = Math.max(kLeast[channel.gives] ?? 1e-3, 0.55 * (high - low));
  const y = (value: number) => (kHeight / 2 - ((kHeight / 2 - 3) * (value - middle)) / half).toFixed(1);
  let path = "", drawn = false;
  for (const {at, range} of points) {
    const x = (kWidth - 4 - ((kWidth - 8) * (now - at)) / kTrend).toFixed(1);
    if (range) path += `${drawn ? "L" : "M"}${x} ${y(range.low)}V${y(range.high)}`;
    drawn = range !== null;
  }
  return <svg class={channel.settled ? "trend" : "trend trend-unrest"} width={kWidth} height={kHeight} role="img"
    aria-label={texts.now.trend(texts.gives[channel.gives] ?? channel.gives)}>
    <path class="grid" d={`M0 ${kHeight / 2}H${kWidth}`} />
    {ranges.length > 0 && <path class="trend-line" d={path} />}
  </svg>;
}
