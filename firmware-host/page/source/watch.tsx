// watch.tsx: a move or a load under watch: what is read, what must be read when it is done, and "stop", in the biggest letters.
import type {Card, Move} from "./messages";
import {Button, Mark, Section, type Shape} from "./parts";
import {useShown} from "./store";
import {texts} from "./texts";

export const kVerdict: {[verdict: string]: Shape} = {"on the way": "moving", done: "good", "too far": "look", "wrong way": "stop", stop: "stop"};

export function WatchPanel() {
  const watch = useShown(from => from.topics.watch), say = texts.watch;
  if (!watch?.what) return null;
  const shape = kVerdict[watch.verdict] ?? "moving";
  return <Section name={say.name} class={`watch watch-${shape}`}>
    <p class="label">{watch.what}</p>
    <div class="next-words" role={shape === "stop" ? "alert" : undefined}><Mark shape={shape} /><p>{watch.silent ? say.silent(watch.silent) : watch.says || say.begins}</p></div>
    {watch.stop_said && watch.verdict !== "stop" && <p class="trouble">{say.stopWasSaid}</p>}
    <progress max={1} value={watch.share} aria-label={say.share} />
    {watch.turns_to_go && <p class="big">{say.toGo(watch.turns_to_go)}</p>}
    <ul class="watched">{watch.channels.map(each => <li key={`${each.name} ${each.at}`}>
      <p class="soft">{each.name}, {each.at}</p>
      <p><b class="big">{each.now}</b> <span class="label">{say.must}</span> <b class="big">{each.must_read}</b> <span class="soft">± {each.band}</span></p>
    </li>)}</ul>
    <Button class="wide" command="watch off">{say.off}</Button>
  </Section>;
}

/// Where to stand for the next move, and the key that begins it under watch.
export function BeginWatch({card, move}: {card: Card; move: Move}) {
  const work = useShown(from => from.topics.work), watching = useShown(from => !!from.topics.watch?.what), say = texts.watch;
  const stand = card.stand?.order === move.order ? card.stand : null;
  if (!card.begun || move.made || move.when_stage || watching || !work) return null;
  return <div class="begin-watch">
    {stand && stand.station > 0 && <>
      <p>{say.stand(stand.instrument, stand.at)}</p>
      {work.station !== stand.station && <Button class="wide" command={`station ${stand.station}`}>{texts.now.goTo(stand.at)}</Button>}
    </>}
    <Button class="wide" command={`watch ${move.order}`}>{say.begin(move.order)}</Button>
    <p class="soft">{say.beginMore}</p>
  </div>;
}
