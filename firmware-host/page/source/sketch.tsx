// sketch.tsx: the run from above: its start mark, the way one looks, which edge is left and which right, where the supports are;
// and for a move which support, and which corners of it go up.
import {useId} from "preact/hooks";

import {setSide, useComfort, type Side} from "./comfort";
import type {Job, Move} from "./messages";
import {Keys} from "./parts";
import {withSeen} from "./sides";
import {useShown} from "./store";
import {texts} from "./texts";

const kLeft = 34, kRight = 326, kTop = 40, kBottom = 84, kMiddle = (kTop + kBottom) / 2;

/// Where nothing is moved: of the job on the screen; and where its person stands, which is said once.
export function Sides() {
  const job = useShown(from => from.topics.job), {side} = useComfort(), say = texts.side;
  return job ? <>
    <PlanSketch job={job} />
    <Keys<Side> name={say.name} value={side} choose={setSide} keys={[["left", say.atLeft], ["right", say.atRight], ["", say.notSaid]]} />
  </> : null;
}

/// Corners of a plate, and whether the move lifts them most: far is towards the run's end, up on the drawing is left.
function corners(move: Move) {
  const all = [-1, 1].flatMap(far => [-1, 1].map(left => ({far, left, up: far * move.pitch_rad + left * move.roll_rad})));
  const most = Math.max(...all.map(each => each.up));
  return all.filter(each => most > 0 && each.up > 0.999 * most);
}

export function PlanSketch({job, move}: {job: Job; move?: Move}) {
  const say = texts.sketch, title = useId(), {side} = useComfort();
  const supports = job.supports;  // lettered as on the prints
  const x = (at_m: number) => kLeft + (kRight - kLeft) * at_m / job.length_m;
  const lifted = move ? corners(move) : [];
  const words = move && lifted.length > 0 ? say.goesUp(move.support, lifted.map(each => withSeen(say.corner(each.far > 0, each.left > 0), each.far, each.left))) : "";
  return <figure class="plan-sketch">
    <svg viewBox="0 0 360 124" role="img" aria-labelledby={title}>
      <title id={title}>{say.title}</title>
      <path class="edge-line" d={`M${kLeft} ${kTop}H${kRight}V${kBottom}H${kLeft}z`} />
      <text x={(kLeft + kRight) / 2} y={kTop - 24} text-anchor="middle">{say.left}</text>
      <text x={(kLeft + kRight) / 2} y={kBottom + 36} text-anchor="middle">{say.right}</text>
      <path class="solid" d={`M${kLeft} ${kMiddle - 9}l16 9l-16 9z`} />
      <path class="edge-line" d={`M${kLeft + 20} ${kMiddle}H${kRight - 24}m-8 -6l8 6l-8 6`} />
      <text x="4" y={kTop - 24}>{say.start}</text>
      {side && <g class="plan-person" transform={`translate(${(kLeft + kRight) / 2 + 78} ${side === "left" ? kTop - 16 : kBottom + 16})`}>
        <circle r="7" /><text x="12" y="5">{texts.side.you}</text>
      </g>}
      {supports.map((each, i) => {
        const at = Math.min(Math.max(x(each.at_m), kLeft + 9), kRight - 9), moves = each.name === move?.support;
        const y = kMiddle - Math.min(Math.max(each.across, -1), 1) * (kBottom - kTop) / 2;
        return <g key={each.name}>
          <rect class={moves ? "plan-moves" : "plate"} x={at - 9} y={y - 9} width="18" height="18" />
          <text x={at} y={y + 6} text-anchor="middle">{String.fromCharCode(65 + i)}</text>
          {moves && lifted.map(corner => <path key={`${corner.far}${corner.left}`} class="plan-up"
            d={`M${at + 15 * corner.far} ${y - 15 * corner.left + 6}l-6 0l6 -12l6 12z`} />)}
        </g>;
      })}
    </svg>
    <figcaption>{supports.map((each, i) => `${String.fromCharCode(65 + i)} ${each.name}`).join(", ")}. {say.sides}{words && <b> {words}</b>}</figcaption>
  </figure>;
}
