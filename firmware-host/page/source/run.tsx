// run.tsx: the run's shape: as it hangs, finished, and its roll; what of it is tilt and what is sag.
import type {ComponentChildren} from "preact";
import {useState} from "preact/hooks";

import {Axes, band, factorWords, frame, kLeft, kRight, kStrip, Legend, line, sample, times, type Frame} from "./chart";
import type {Job, Mark as Reading, Support} from "./messages";
import {List, Section, State, useWidth} from "./parts";
import {useShown} from "./store";
import {texts} from "./texts";

const kSupportStrip = 48;
const letter = (i: number) => String.fromCharCode(65 + (i % 26));

function SupportShape({support, x, y}: {support: Support; x: number; y: number}) {
  if (support.holds === "push") return <path d={`M${x} ${y}l10 16h-20z`} />;
  if (support.holds === "pull") return <path d={`M${x} ${y + 16}l-10 -16h20zM${x - 10} ${y - 3}h20`} />;
  return <path d={`M${x - 8} ${y}h16v16h-16z`} />;
}

function Cross({x, y}: {x: number; y: number}) {
  return <path class="crossed" d={`M${x - 8} ${y - 8}l16 16M${x + 8} ${y - 8}l-16 16`} />;
}

/// What is drawn over the length of the run: a value at each of these.
interface Places {
  stations: {at_m: number; at: string}[];
}

/// Which of these it is, or the finger's place: the nearest station.
function nearest(run: Places, in_: Frame, event: PointerEvent): number {
  const x = event.clientX - (event.currentTarget as Element).getBoundingClientRect().left;
  let best = 0;
  run.stations.forEach((each, i) => {
    if (Math.abs(in_.x(each.at_m) - x) < Math.abs(in_.x(run.stations[best]!.at_m) - x)) best = i;
  });
  return best;
}

interface DrawingProps {
  name: string;
  run: Places;
  job: Job;
  pick: number;
  setPick: (pick: number) => void;
  height: number;
  strip?: number;
  values: number[];
  says: string;       // of the picked station
  describes: string;
  unit: string;
  per: number;
  legend: [ComponentChildren, string][];
  factor: boolean;
  draw: (in_: Frame) => ComponentChildren;
}

export function Drawing({name, run, job, pick, setPick, height, strip = 0, values, says, describes, unit, per, legend, factor, draw}: DrawingProps) {
  const [box, width] = useWidth();
  const in_ = frame(job, width, height, values), at = run.stations[pick];
  return <Section name={name} class="drawing">
    <p class="axis-name">{unit}</p>
    <div ref={box} class="chart">
      {width > 0 && <svg width={width} height={in_.bottom + strip + kStrip + 4} role="img" aria-label={describes}
        onPointerDown={event => setPick(nearest(run, in_, event))}
        onPointerMove={event => (event.pointerType === "mouse" ? event.buttons > 0 : true) && setPick(nearest(run, in_, event))}>
        {at && <g class="picked"><path d={`M${in_.x(at.at_m)} ${in_.top}V${in_.bottom}`} /><path class="picked-mark" d={`M${in_.x(at.at_m)} ${in_.top}l-8 -12h16z`} /></g>}
        <Axes in_={in_} job={job} unit={unit} per={per} strip={strip}>{draw(in_)}</Axes>
      </svg>}
    </div>
    <p class="caption">{texts.run.placeAxis(job.units.place)}{factor && width > 0 && `. ${factorWords(in_)}`}</p>
    <label class="pick"><span class="label">{texts.run.pick}</span>
      <input type="range" min="0" max={run.stations.length - 1} step="1" value={pick} aria-valuetext={at?.at}
        onInput={event => setPick(Number(event.currentTarget.value))} /></label>
    <p class="picked-words" aria-live="polite">{says}</p>
    <Legend items={legend} />
  </Section>;
}

function drawMark(in_: Frame, mark: Reading, i: number) {
  const x = in_.x(mark.at_m), inside = (y: number) => Math.max(in_.top, Math.min(in_.bottom, y));
  const y = inside(in_.y(mark.height_m));
  if (mark.channel === "distance")
    return <g key={i} class="reading-mark">
      <path d={`M${x} ${inside(in_.y(mark.height_m + 2 * mark.sigma))}V${inside(in_.y(mark.height_m - 2 * mark.sigma))}`} />
      <circle cx={x} cy={y} r="5" />{!mark.fits && <Cross x={x} y={y} />}
    </g>;
  if (mark.channel !== "slope") return null;
  // Not over the numbers of the axis.
  const tilt = Math.atan(mark.slope * times(in_)), dx = 17 * Math.cos(tilt), rise = Math.tan(tilt);
  const back = Math.min(dx, x - kLeft), on = Math.min(dx, in_.width - kRight - x);
  return <g key={i} class="reading-mark"><path class="stroke" d={`M${x - back} ${y + back * rise}L${x + on} ${y - on * rise}`} />{!mark.fits && <Cross x={x} y={y} />}</g>;
}

/// Letters at the far ends of two lines, moved apart where they would lie on each other.
function EndLetters({in_, left, right}: {in_: Frame; left: number; right: number}) {
  const x = in_.width - kRight + 5;
  let [a, b] = [in_.y(left), in_.y(right)];
  if (Math.abs(a - b) < 16) [a, b] = a <= b ? [(a + b) / 2 - 8, (a + b) / 2 + 8] : [(a + b) / 2 + 8, (a + b) / 2 - 8];
  return <><text x={x} y={a + 5.5}>L</text><text x={x} y={b + 5.5}>R</text></>;
}

export function RunView() {
  const run = useShown(from => from.topics.run), job = useShown(from => from.topics.job);
  const work = useShown(from => from.topics.work);
  const [picked, setPick] = useState<number | null>(null);
  const fit = work?.trouble_fit ?? "";
  if (!run || !job || run.stations.length === 0)
    return <div class="run"><h1 tabIndex={-1}>{texts.views.run}</h1><p class="trouble"><State shape="look">{fit || texts.run.noRun}</State></p></div>;

  const here = run.stations.findIndex(each => each.number === work?.station);
  const pick = Math.min(picked ?? (here >= 0 ? here : Math.floor(run.stations.length / 2)), run.stations.length - 1);
  const all = run.stations, at = all[pick]!, say = texts.run;
  const marks = run.marks, rolls = marks.filter(each => each.channel === "roll");
  const common = {run, job, pick, setPick};

  const after = run.has_moves;
  const finished = all.flatMap(each => after ? [each.left_before_m, each.right_before_m, each.left_after_m, each.right_after_m]
                                             : [each.left_before_m, each.right_before_m]);
  const best = all.flatMap(each => after ? [each.left_after_m, each.right_after_m] : [each.left_before_m, each.right_before_m]);
  const middle = (Math.min(...best) + Math.max(...best)) / 2;
  const low = middle - job.tolerance_m / 2, high = middle + job.tolerance_m / 2;
  const listed = (each: Support) => !!work?.supports.includes(each.name);

  return <div class="run">
    <h1 tabIndex={-1}>{texts.views.run}</h1>
    {fit && <p class="trouble"><State shape="bad">{fit}</State></p>}
    <p class="lead"><State shape={!run.measured ? "look" : run.holds ? "good" : "bad"}>
      {run.measured && <b>{run.holds ? say.holds : say.holdsNot}</b>} {run.test}</State></p>

    <Section name={say.shape} class="shape">
      <dl>
        <div><dt>{say.tilt}</dt><dd><b>{run.tilt}</b><span>{say.tiltMore}</span></dd></div>
        <div><dt>{say.sag}</dt><dd><b>{run.sag}</b><span>{say.sagMore}</span></dd></div>
        <div><dt>{say.sagToCome}</dt><dd><b>{run.sag_to_come}</b><span>{say.sagToComeMore}</span></dd></div>
      </dl>
    </Section>

    {run.causes.length > 0 && <Section name={say.causes} class="causes">
      <ul>{run.causes.map((each, i) => <li key={i}><b>{each.words}</b> <span class="soft">{say.chance(each.chance)}</span></li>)}</ul>
    </Section>}

    <Drawing {...common} name={say.now} height={220} strip={kSupportStrip} describes={say.drawingNow} factor
      unit={say.heightAxis(job.units.height)} per={job.units.heights_per_m}
      values={all.flatMap(each => [each.predicted_m, each.height_m - 2 * each.sigma_m, each.height_m + 2 * each.sigma_m])
          .concat(marks.filter(each => each.channel === "distance" && each.fits).map(each => each.height_m))}
      says={say.valueNow(at.at, at.height, at.sigma, at.predicted)}
      legend={[
        [sample("line-predicted"), say.predicted],
        [sample("line-fitted"), say.fitted],
        [<rect class="band" x="2" y="2" width="40" height="16" />, say.band],
        ...(marks.some(each => each.channel === "distance") ? [[<g class="reading-mark"><path d="M22 1v18" /><circle cx="22" cy="10" r="5" /></g>, say.distance] as [ComponentChildren, string]] : []),
        ...(marks.some(each => each.channel === "slope") ? [[<g class="reading-mark"><path class="stroke" d="M6 14L38 6" /></g>, say.slope] as [ComponentChildren, string]] : []),
        ...(marks.some(each => !each.fits) ? [[<Cross x={22} y={10} />, say.aside] as [ComponentChildren, string]] : []),
      ]}
      draw={in_ => <>
        <path class="band" d={band(in_, all, i => all[i]!.height_m - 2 * all[i]!.sigma_m, i => all[i]!.height_m + 2 * all[i]!.sigma_m)} />
        <path class="line-predicted" d={line(in_, all, i => all[i]!.predicted_m)} />
        <path class="line-fitted" d={line(in_, all, i => all[i]!.height_m)} />
        {marks.map((each, i) => drawMark(in_, each, i))}
        {job.supports.map((each, i) => <g key={each.name} class={listed(each) ? "support" : "support support-later"}>
          <SupportShape support={each} x={in_.x(each.at_m)} y={in_.bottom + 5} />
          <text x={in_.x(each.at_m)} y={in_.bottom + 41} text-anchor="middle">{letter(i)}</text>
        </g>)}
      </>} />

    <Section name={say.supports} class="supports">
      <ul>{job.supports.map((each, i) => <li key={each.name}>
        <svg width="44" height="24" aria-hidden="true" class={listed(each) ? "support" : "support support-later"}>
          <SupportShape support={each} x={30} y={4} /><text x="0" y="18">{letter(i)}</text></svg>
        <span><b>{each.name}</b>, {each.at}, {say.holdings[each.holds] ?? each.holds}{!listed(each) && <span class="soft">, {say.notThisStage}</span>}</span>
      </li>)}</ul>
    </Section>

    <Drawing {...common} name={say.finished} height={200} describes={say.drawingFinished} factor
      unit={say.heightAxis(job.units.height)} per={job.units.heights_per_m} values={[...finished, low, high]}
      says={after ? say.valueFinished(at.at, at.left_before, at.right_before, at.left_after, at.right_after)
                  : say.valueFinishedOnly(at.at, at.left_before, at.right_before)}
      legend={[
        [sample("before-left"), `${say.before}, ${say.left}`], [sample("before-right"), `${say.before}, ${say.right}`],
        ...(after ? [[sample("after-left"), `${say.after}, ${say.left}`], [sample("after-right"), `${say.after}, ${say.right}`]] as [ComponentChildren, string][] : []),
        [<rect class="tolerance" x="2" y="2" width="40" height="16" />, say.tolerance(job.tolerance)],
      ]}
      draw={in_ => <>
        <path class="tolerance" d={`M${kLeft} ${in_.y(high)}H${in_.width - kRight}V${in_.y(low)}H${kLeft}z`} />
        <path class="before-left" d={line(in_, all, i => all[i]!.left_before_m)} />
        <path class="before-right" d={line(in_, all, i => all[i]!.right_before_m)} />
        {after && <>
          <path class="after-left" d={line(in_, all, i => all[i]!.left_after_m)} />
          <path class="after-right" d={line(in_, all, i => all[i]!.right_after_m)} />
        </>}
        <EndLetters in_={in_} left={best[best.length - 2]!} right={best[best.length - 1]!} />
      </>} />
    {!after && <p class="soft">{say.noMoves}</p>}

    <Drawing {...common} name={say.roll} height={130} describes={say.drawingRoll} factor={false} unit={say.rollAxis(job.units.slope)} per={job.units.slopes_per_rad}
      values={all.flatMap(each => [each.predicted_roll, each.roll - 2 * each.roll_sigma, each.roll + 2 * each.roll_sigma])
          .concat(rolls.filter(each => each.fits).map(each => each.roll))}
      says={say.valueRoll(at.at, at.roll_words, at.roll_sigma_words)}
      legend={[
        [sample("line-predicted"), say.predicted], [sample("line-fitted"), say.fitted],
        ...(rolls.length ? [[<g class="reading-mark"><path d="M22 1v18" /><rect x="17.5" y="5.5" width="9" height="9" /></g>, say.rollReading] as [ComponentChildren, string]] : []),
      ]}
      draw={in_ => <>
        <path class="band" d={band(in_, all, i => all[i]!.roll - 2 * all[i]!.roll_sigma, i => all[i]!.roll + 2 * all[i]!.roll_sigma)} />
        <path class="line-predicted" d={line(in_, all, i => all[i]!.predicted_roll)} />
        <path class="line-fitted" d={line(in_, all, i => all[i]!.roll)} />
        {rolls.map((each, i) => {
          const x = in_.x(each.at_m), inside = (y: number) => Math.max(in_.top, Math.min(in_.bottom, y)), y = inside(in_.y(each.roll));
          return <g key={i} class="reading-mark">
            <path d={`M${x} ${inside(in_.y(each.roll + 2 * each.sigma))}V${inside(in_.y(each.roll - 2 * each.sigma))}`} />
            <rect x={x - 4.5} y={y - 4.5} width="9" height="9" />{!each.fits && <Cross x={x} y={y} />}
          </g>;
        })}
      </>} />

    {run.warnings.length > 0 && <Section name={say.warnings}><ul class="warnings">
      {run.warnings.map((each, i) => <li key={i}><State shape="look">{each}</State></li>)}</ul></Section>}

    {run.learned.length > 0 && <details>
      <summary>{say.learned}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={say.learned}><table>
        <thead><tr><th scope="col">{say.learnedHead.name}</th><th scope="col">{say.learnedHead.value}</th><th scope="col">{say.learnedHead.sigma}</th><th scope="col">{say.learnedHead.learned}</th></tr></thead>
        <tbody>{run.learned.map((each, i) => <tr key={i}><th scope="row">{each.name}</th><td>{each.value}</td><td>{each.sigma}</td><td>{each.learned}</td></tr>)}</tbody>
      </table></div>
    </details>}

    <details>
      <summary>{say.table}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={say.tableName}><table>
        <thead><tr>{Object.values(say.values).map(each => <th scope="col" key={each}>{each}</th>)}</tr></thead>
        <tbody>{all.map(each => <tr key={each.at}><th scope="row">{each.at}</th>
          {[each.predicted, each.height, each.sigma, each.roll_words, each.roll_sigma_words, each.left_before, each.right_before, each.left_after, each.right_after]
            .map((value, i) => <td key={i}>{value}</td>)}</tr>)}</tbody>
      </table></div>
      {marks.length > 0 && <><h3>{say.marksTable}</h3><List items={marks.map(each => each.words)} kind="plain-list" /></>}
    </details>
  </div>;
}
