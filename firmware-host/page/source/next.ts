// next.ts: what to do next, from the state alone. Pure.
import type {Advice, BookedReading, Live, LiveChannel, LiveInstrument, Readings, Topics, Watch, Work} from "./messages";
import {texts} from "./texts";

export type View = keyof typeof texts.views;

/// mark: do something, keep still, take now, look at something, stop.
export interface Step {
  mark: "do" | "still" | "take" | "look" | "stop";
  words: string;
  more: string;
  view?: View;       // where it is done
  command?: string[];  // or what does it
  label?: string;    // of the button for that
}

export const walks = (channel: LiveChannel) => channel.stays_at_m === null && isReading(channel);
export const isReading = (channel: LiveChannel) => channel.gives !== "temperature" && channel.gives !== "station";
/// At a stable mark only distances are taken.
export const isMeant = (channel: LiveChannel, mark = "") => walks(channel) && (!mark || channel.gives === "distance");
export const walking = (instruments: LiveInstrument[]) => instruments.filter(each => each.channels.some(walks));

/// What has not settled of what walks and speaks, and why.
function unsettled(instruments: LiveInstrument[], mark = ""): string {
  const says = walking(instruments).filter(each => each.speaks)
      .flatMap(each => each.channels.filter(channel => isMeant(channel, mark) && !channel.settled).map(channel => channel.says));
  return (says[0] ?? "") + (says.length > 1 ? texts.next.andMore(says.length - 1) : "");
}

/// Everything that walks and speaks has settled.
export function isSettled(instruments: LiveInstrument[], mark = ""): boolean {
  const speaking = instruments.filter(each => each.speaks && each.channels.some(channel => isMeant(channel, mark)));
  return speaking.length > 0 && speaking.every(each => each.channels.every(channel => !isMeant(channel, mark) || channel.settled));
}

/// Channels of instruments that stay where they are: what they read is not read by those that walk. As one text, so that it is
/// drawn only when it is another; stays() reads it.
type Staying = string;
export function staying(live: Live | undefined): Staying {
  return JSON.stringify((live?.instruments ?? []).flatMap(each =>
      each.channels.filter(channel => isReading(channel) && !walks(channel)).map(channel => [each.name, channel.gives])));
}
const stays = (all: [string, string][], reading: BookedReading) =>
    all.some(([instrument, channel]) => instrument === reading.instrument && channel === reading.channel);

/// What has been read at a station, or at a mark, by what walks, and counts.
export function readAt(readings: Readings | undefined, stay: Staying, station: number | null, mark = ""): BookedReading[] {
  const all = JSON.parse(stay) as [string, string][];
  return (readings?.readings ?? []).filter(each => each.kept && each.mark === mark && (mark || each.station === station) && !stays(all, each));
}

/// "face 1", "face 2, left edge", "distance".
export function readWords(read: BookedReading[]): string[] {
  return [...new Set(read.map(each => [
    each.channel === "distance" ? (texts.gives["distance"] ?? "").toLowerCase() : texts.face(each.face), ...edgeWords(each.edge)].join(", ")))].sort();
}

const isEdge = (edge: string) => edge in texts.now.edges;
const edgeWords = (edge: string) => (isEdge(edge) && edge !== "middle" ? [texts.record.edge(texts.now.edges[edge]!)] : []);

/// Whether what would be read now was read there already: that face, or the distance alone; at that edge where one was said.
export function isRead(read: BookedReading[], work: Work, face = work.face): boolean {
  return read.some(each => (!isEdge(work.edge) || each.edge === work.edge) &&
      (work.has_slope ? each.channel !== "distance" && each.face === face : each.channel === "distance"));
}

/// "1200 mm", "1200 mm, left edge".
export const placeWords = (at: string, edge: string) => [whole(at), ...edgeWords(edge)].join(", ");

/// A place does not break at the end of a line.
const whole = (at: string) => at.replace(/ /g, "\u00a0");

/// What must be said before the best reading can be taken: its station, and its edge.
function commandsTo(best: Advice, work: Work, live: LiveInstrument[]): string[] {
  const said = isEdge(work.edge) ? work.edge
      : live.find(each => each.name === best.instrument)?.channels.find(each => each.gives === best.channel)?.edge;
  return [...(best.station === work.station ? [] : [`station ${best.station}`]),
          ...(best.edge && best.edge !== said ? [`edge ${best.edge}`] : [])];
}

/// The best next reading, in few words.
export function bestWords(best: Advice | null | undefined): string {
  if (!best) return "";
  const parts = [texts.gives[best.channel]?.toLowerCase() ?? best.channel];
  if (best.channel !== "distance") parts.push(texts.face(best.face));
  return [...parts, ...edgeWords(best.edge)].join(", ");
}

/// Why nothing is known of what is under watch: no value, verdict or share of it is shown then. Empty: it is known.
export function whatIsUnknown(watch: Watch | undefined, old: boolean): string {
  if (!watch?.what) return "";
  return old ? texts.watch.noConnection : watch.silent ? texts.watch.silent(watch.silent) : "";
}

const answered = (holdPoint: string) => holdPoint !== "" && holdPoint !== "read again";

export function nextStep(topics: Topics): Step {
  const {work, job, card, kit} = topics, say = texts.next;
  const instruments = topics.live?.instruments ?? [];
  if (!work || !job) return {mark: "still", words: say.begin, more: ""};
  if (work.trouble) return {mark: "stop", words: say.bookTrouble, more: work.trouble};

  const check = kit?.check;
  if (check)
    return {mark: check.in_doubt ? "look" : "do", more: check.instruction, view: "kit", label: say.toKit,
            words: check.in_doubt ? say.checkDoubt : say.check(check.step, check.steps)};
  if (work.doing) return {mark: "still", words: say.hold, more: unsettled(instruments, work.mark) || work.waits_for};

  if (work.moving) {
    const now = (card?.moves ?? []).filter(move => !move.when_stage), made = now.filter(move => move.made).length;
    return made < now.length
        ? {mark: "do", words: say.goOnCard(made + 1, now.length), more: "", view: "card", label: say.toCard}
        : {mark: "do", words: say.moved, more: say.movedMore, view: "card", label: say.toCard};
  }

  // Without what gives slope, or else distance, there is nothing to take.
  const needed = walking(instruments).filter(each => !work.has_slope || each.channels.some(channel => walks(channel) && channel.gives !== "distance"));
  if (needed.length > 0 && needed.every(each => !each.speaks))
    return {mark: "stop", words: say.silent(needed.map(each => each.name).join(texts.and)),
            more: needed.map(each => each.says).join("; "), view: "kit", label: say.toInstruments};

  const ready = card && card.enough && answered(card.hold_point);
  const cardReady = (): Step => ({
    mark: "do", view: "card", label: say.toCard, more: say.cardMore,
    words: card!.hold_point === "ready to bolt" ? say.readyToBolt : say.cardReady(card!.hold_point)});

  if (!work.has_slope && !work.has_distance) {
    if (!(topics.readings?.readings ?? []).some(each => each.kept)) return {mark: "take", words: say.fixedOnly, more: say.fixedMore};
    return ready ? cardReady() : {mark: "look", words: say.fixedRead, more: card?.reason ?? "", view: "card", label: say.toCard};
  }

  const best = work.next;
  const goTo = (words: string, more: string): Step => {
    const where = placeWords(best!.at, best!.edge);
    return {mark: "do", words, more, command: commandsTo(best!, work, instruments), label: texts.now.goTo(where)};
  };
  if (work.mark) {
    const settled = isSettled(instruments, work.mark), at = whole(work.at);
    if (readAt(topics.readings, staying(topics.live), null, work.mark).length === 0)
      return settled ? {mark: "take", more: "", words: say.takeDistance(at)}
                     : {mark: "still", words: say.putDistance(at), more: unsettled(instruments, work.mark) || say.putMore};
  }
  if (work.station === null) {
    if (ready) return cardReady();
    return best ? goTo(say.choose, texts.now.best(`${best.at}, ${bestWords(best)}`)) : {mark: "do", words: say.choose, more: say.chooseMore};
  }

  // Here: face 1 and face 2 where an inclinometer walks, or the distance alone.
  const stay = staying(topics.live), read = readAt(topics.readings, stay, work.station), face = texts.face(work.face);
  const here = placeWords(work.at, work.edge), settled = isSettled(instruments);
  const take = (words: string): Step => settled
      ? {mark: "take", more: "", words: work.has_slope ? say.take(here, face) : say.takeDistance(here)}
      : {mark: "still", words, more: unsettled(instruments) || say.putMore};
  const turn = (to: number): Step =>
      ({mark: "do", words: say.turn(to), more: say.turnMore, command: [`face ${to === 1 ? 1 : 2}`], label: say.turned(to)});
  if (!isRead(read, work)) return take(work.has_slope ? say.put(here, face) : say.putDistance(here));
  if (work.has_slope && !isRead(read, work, -work.face)) return turn(-work.face);

  if (ready) return cardReady();
  // As one walks, by the plan; what would teach most comes after it.
  const walk = work.walk;
  if (walk?.at && (walk.station !== work.station || walk.mark !== work.mark)) {
    const where = placeWords(walk.at, walk.edge);
    return {mark: "do", words: say.goOn(where), more: say.walked(walk.read, walk.places), command: ["go on"], label: texts.now.goTo(where)};
  }
  if (best && commandsTo(best, work, instruments).length > 0)
    return goTo(say.goOn(placeWords(best.at, best.edge)), texts.now.best(bestWords(best)));
  if (best)
    return work.has_slope && best.channel !== "distance" && best.face !== work.face ? turn(best.face) : take(say.again(here, face));
  const open = job.stations.find(each => readAt(topics.readings, stay, each.number).length === 0);
  if (open)
    return {mark: "do", words: say.goOn(whole(open.at)), more: "", command: [`station ${open.number}`], label: texts.now.goTo(open.at)};
  return {mark: "look", words: say.allRead, more: "", view: "card", label: say.toCard};
}
