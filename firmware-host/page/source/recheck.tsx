// recheck.tsx: this survey against an earlier one: in words first, then both shapes, and the change with its band.
import {useState} from "preact/hooks";

import {band, line, sample} from "./chart";
import {List, Pdf, Section, State, typeset, type Shape} from "./parts";
import {Drawing} from "./run";
import {useShown} from "./store";
import {texts} from "./texts";

const say = texts.recheck;
const kShapes: {[answer: string]: Shape} = {"nothing moved": "good", moved: "bad", "moved somehow": "bad"};

function Table({name, head, rows}: {name: string; head: string[]; rows: string[][]}) {
  return <details>
    <summary>{name}</summary>
    <div class="scroll" tabIndex={0} role="region" aria-label={name}><table>
      <thead><tr>{head.map(each => <th scope="col" key={each}>{each}</th>)}</tr></thead>
      <tbody>{rows.map(([first, ...rest]) => <tr key={first}><th scope="row">{first}</th>{rest.map((each, i) => <td key={i}>{typeset(each)}</td>)}</tr>)}</tbody>
    </table></div>
  </details>;
}

export function RecheckView() {
  const recheck = useShown(from => from.topics.recheck), job = useShown(from => from.topics.job);
  const [picked, setPick] = useState<number | null>(null);
  const back = <a class="wide" href="#record">{say.toRecord}</a>;
  if (!recheck || !job) return <div class="recheck"><h1 tabIndex={-1}>{say.name}</h1><p>{say.none}</p>{back}</div>;

  const all = recheck.stations, pick = Math.min(picked ?? Math.floor(all.length / 2), all.length - 1), at = all[pick];
  const common = {run: recheck, job, pick, setPick, unit: texts.run.heightAxis(job.units.height), per: job.units.heights_per_m, factor: true};
  return <div class="recheck">
    <h1 tabIndex={-1}>{say.name}</h1>
    <p class="soft">{say.compared(recheck.from, recheck.from_time && texts.time(recheck.from_time), recheck.to, recheck.to_time && texts.time(recheck.to_time))}</p>
    {recheck.trouble ? <p class="trouble"><State shape="look">{say.cannot(recheck.trouble)}</State></p> : <>
      <p class="lead"><State shape={kShapes[recheck.answer] ?? "look"}><b>{say.answers[recheck.answer] ?? recheck.answer}.</b> {typeset(recheck.says)}</State></p>

      {recheck.causes.length > 0 && <Section name={say.causes} class="causes"><ul>{recheck.causes.map(each => <li key={each.words}>
        <b>{typeset(each.words)}</b>{each.or_else && <p class="soft">{say.orElse(each.or_else)}</p>}</li>)}</ul></Section>}

      <Section name={say.expected}>
        <p>{recheck.drift_verdict ? <State shape={recheck.drift_verdict === "as expected" ? "good" : "look"}><b>{say.verdicts[recheck.drift_verdict] ?? recheck.drift_verdict}.</b> {typeset(recheck.drift)}</State>
                                  : typeset(recheck.drift)}</p>
        <List items={recheck.drift_reasons} kind="plain-list" />
      </Section>

      <Section name={say.level} class="shape"><dl>
        <div><dt>{say.before}</dt><dd><b>{recheck.level_from}</b></dd></div>
        <div><dt>{say.now}</dt><dd><b>{recheck.level_to}</b><span>± {recheck.level_sigma}</span></dd></div>
      </dl><p class="soft">{recheck.heights_compared ? say.byMarks(recheck.marks.join(texts.and)) : say.shapesOnly}</p></Section>

      {at && <>
        <Drawing {...common} name={say.shapes} height={200} describes={say.drawingShapes} values={all.flatMap(each => [each.from_m, each.to_m])}
          says={say.valueShapes(at.at, at.from, at.to)}
          legend={[[sample("line-predicted"), say.before], [sample("line-fitted"), say.now]]}
          draw={in_ => <>
            <path class="line-predicted" d={line(in_, all, i => all[i]!.from_m)} />
            <path class="line-fitted" d={line(in_, all, i => all[i]!.to_m)} />
          </>} />
        <Drawing {...common} name={say.change} height={160} describes={say.drawingChange}
          values={[0, ...all.flatMap(each => [each.change_m - 2 * each.sigma_m, each.change_m + 2 * each.sigma_m])]}
          says={say.valueChange(at.at, at.change, at.sigma)}
          legend={[[sample("line-fitted"), say.change], [<rect class="band" x="2" y="2" width="40" height="16" />, texts.run.band]]}
          draw={in_ => <>
            <path class="band" d={band(in_, all, i => all[i]!.change_m - 2 * all[i]!.sigma_m, i => all[i]!.change_m + 2 * all[i]!.sigma_m)} />
            <path class="line-fitted" d={line(in_, all, i => all[i]!.change_m)} />
          </>} />
      </>}

      {recheck.trends.length > 0 && <Section name={say.trends}><List items={recheck.trends.map(typeset)} kind="plain-list" /></Section>}
      {recheck.cannot_be_told_apart.length > 0 && <Section name={say.apart}><List items={recheck.cannot_be_told_apart} kind="plain-list" /></Section>}
      {recheck.remarks.length > 0 && <Section name={say.remarks}><ul class="warnings">
        {recheck.remarks.map(each => <li key={each}><State shape="look">{typeset(each)}</State></li>)}</ul></Section>}

      {recheck.seen.length > 0 && <Table name={say.seen} head={say.seenHead} rows={recheck.seen.map(each =>
        each.value ? [each.name, each.value, each.sigma, each.chance, each.smallest] : [each.name, say.unseen, "", "", ""])} />}
      {all.length > 0 && <Table name={texts.run.table} head={say.stationsHead} rows={all.map(each => [each.at, each.from, each.to, each.change, each.sigma])} />}
      <Pdf path={`recheck/${encodeURIComponent(recheck.from)}/${encodeURIComponent(recheck.to)}`}>{say.pdf}</Pdf>
    </>}
    {back}
  </div>;
}
