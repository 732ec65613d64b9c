// level.tsx: the level drawing: the run from the side as a bar on its supports, tilted as the instrument says against a hair
// line, and its end for the roll. How many times too large the tilt is drawn follows the value in steps, and is stated.
import {useRef} from "preact/hooks";

import type {Job} from "./messages";
import {useWidth} from "./parts";
import {texts} from "./texts";

const kTimes = [200, 100, 50, 20, 10, 5, 2, 1];
const kLow = 704;  // px: lower screens have no room to spare; as in page.css
const kMost = 0.2;           // drawn tilt, rad: less exaggeration above
const kLeastOfMost = 0.3;    // more of it below this share of what may be drawn
const kCeiling = 8, kHalf = 7;  // px: its underside; half of the bar's depth

/// Goes on with the former factor while the drawing is neither too steep nor too flat, so that it does not jump about.
function useTimes(tilt: number | null, most = kMost): number {
  const times = useRef(kTimes[0]!);
  if (tilt !== null && most > 0) {
    const drawn = Math.abs(tilt) * times.current;
    if (drawn > most || drawn < kLeastOfMost * most)
      times.current = kTimes.find(each => Math.abs(tilt) * each <= most) ?? 1;
  }
  return times.current;
}

interface Props {
  job: Job;
  supports: string[];  // that this stage lists
  slope: number | null;
  roll: number | null;
  at_m: number | null;
}

export function LevelDrawing({job, supports, slope, roll, at_m}: Props) {
  const [box, width] = useWidth();
  const hasRoll = roll !== null, endWidth = hasRoll ? 104 : 0;
  const height = width > 520 ? 168 : innerHeight < kLow ? 64 : 96, half = kHalf;
  const sideWidth = width - endWidth, left = 22, right = sideWidth - 22, middle = height / 2;
  const x = (at: number) => left + ((right - left) * at) / job.length_m;
  // The higher end stays under the ceiling, and the lower one in the drawing, however steep it is.
  const room = Math.max(0, middle - kCeiling - half - 2) / Math.max(1, (right - left) / 2);
  const timesSlope = useTimes(slope, Math.min(kMost, room)), timesRoll = useTimes(roll);
  const tilt = Math.max(-room, Math.min(room, (slope ?? 0) * timesSlope));
  const y = (at: number) => middle - (x(at) - (left + right) / 2) * tilt;
  const y0 = y(0), y1 = y(job.length_m);

  return <div class="level" ref={box}>
    {width > 0 && <svg width={width} height={height} aria-hidden="true">
      <defs>
        <pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d="M0 0v7" class="hatch" />
        </pattern>
      </defs>
      <rect class="ground" x={left - 14} y="0" width={right - left + 28} height="8" fill="url(#hatch)" />
      <path class="edge-line" d={`M${left - 14} 8H${right + 14}`} />
      {job.supports.filter(each => supports.includes(each.name)).map(each => {
        const at = x(each.at_m), top = y(each.at_m) - half, under = y(each.at_m) + half;
        if (each.holds === "push")
          return <g key={each.name}>
            <path class="edge-line" d={`M${at - 16} ${height - 2}h32`} />
            <path class="solid" d={`M${at} ${under}l8 11h-5V${height - 2}h-6V${under + 11}h-5z`} />
          </g>;
        const end = each.holds === "both" && (at - left < 12 ? -1 : right - at < 12 ? 1 : 0);
        if (end)
          return <g key={each.name}>
            <rect class="ground" x={end < 0 ? left - 22 : right + 14} y="8" width="8" height={height - 16} fill="url(#hatch)" />
            <path class="edge-line" d={`M${end < 0 ? left - 14 : right + 14} 8V${height - 8}`} />
            <path class="solid" d={`M${end < 0 ? left - 14 : right + 14} ${under - half - 16}v32l${-end * 22} ${-16 + half}v${-2 * half}z`} />
          </g>;
        return each.holds === "pull"
            ? <g key={each.name}><path class="rod" d={`M${at} 8V${under + 6}`} /><path class="solid" d={`M${at - 7} ${under}h14v5h-14z`} /></g>
            : <path key={each.name} class="solid" d={`M${at - 5} 8h10V${top}h-10z`} />;
      })}
      <path class="hair" d={`M0 ${middle}H${sideWidth}`} />
      <path class={slope === null ? "bar bar-unknown" : "bar"}
        d={`M${left} ${y0 - half}L${right} ${y1 - half}V${y1 + half}L${left} ${y0 + half}z`} />
      {at_m !== null && <path class="here" d={`M${x(at_m)} ${y(at_m) - half - 1}l-9 -15h18z`} />}
      {hasRoll && <g transform={`translate(${sideWidth} 0)`}>
        <path class="hair" d={`M0 ${middle}H${endWidth}`} />
        <g transform={`translate(${endWidth / 2} ${middle}) rotate(${(Math.max(-0.35, Math.min(0.35, roll * timesRoll)) * 180) / Math.PI})`}>
          <rect class="bar" x="-30" y="-15" width="60" height="30" />
          <path class="cut-line" d="M-30 -15l60 30M30 -15l-60 30" />
        </g>
        <text x={endWidth / 2 - 42} y={Math.max(15, middle - 26)} text-anchor="middle">L</text>
        <text x={endWidth / 2 + 42} y={Math.max(15, middle - 26)} text-anchor="middle">R</text>
      </g>}
    </svg>}
    <p class="caption">
      <span>{slope === null ? texts.now.noSlope : texts.now.drawn(String(timesSlope))}</span>
      {hasRoll && <span>{texts.now.drawnEnd(String(timesRoll))}</span>}
    </p>
  </div>;
}
