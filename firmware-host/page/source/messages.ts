// Made by page_types of firmware-host/page/messages.hpp, which says what each member is. Not edited by hand.

export interface Topics {
  job?: Job;
  work?: Work;
  live?: Live;
  watch?: Watch;
  readings?: Readings;
  run?: Run;
  card?: Card;
  kit?: Kit;
  record?: Record;
  recheck?: Recheck;
  clock?: Clock;
  answer?: Answer;
}

export interface Job {
  build: string;
  begun: string;
  title: string;
  length_m: number;
  stations: Station[];
  marks: StableMark[];
  supports: Support[];
  stages: string[];
  finished_stage: string;
  tolerance_m: number;
  tolerance: string;
  confidence: string;
  units: Units;
  cautions: string[];
  language: string;
}

export interface Station {
  number: number;
  at_m: number;
  at: string;
}

export interface StableMark {
  name: string;
  at_m: number;
  at: string;
}

export interface Support {
  name: string;
  at_m: number;
  across: number;
  at: string;
  holds: Holds;
  adjust: AdjustBy;
}

export type Holds = "both" | "push" | "pull";

export type AdjustBy = "nothing" | "shims" | "rod" | "lift";

export interface Units {
  height: string;
  place: string;
  slope: string;
  heights_per_m: number;
  places_per_m: number;
  slopes_per_rad: number;
}

export interface Work {
  revision: number;
  station: number | null;
  mark: string;
  at: string;
  face: number;
  edge: string;
  set_up: string;
  laser_at: string;
  stage: string;
  survey: string;
  called: string;
  read_by: string;
  checked_by: string;
  supports: string[];
  has_slope: boolean;
  has_distance: boolean;
  doing: string;
  waits_for: string;
  next: Advice | null;
  walk: Walk | null;
  moving: boolean;
  notice: string;
  trouble: string;
  trouble_fit: string;
}

export interface Advice {
  station: number;
  at: string;
  instrument: string;
  channel: string;
  edge: string;
  face: number;
  words: string;
}

export interface Walk {
  read: number;
  places: number;
  at: string;
  edge: string;
  mark: string;
  station: number | null;
}

export interface Live {
  instruments: LiveInstrument[];
}

export interface LiveInstrument {
  name: string;
  state: string;
  says: string;
  speaks: boolean;
  channels: LiveChannel[];
}

export interface LiveChannel {
  gives: string;
  value: number | null;
  number: string;
  unit: string;
  sigma: string;
  corrected: boolean;
  reads: string;
  leans: number;
  settled: boolean;
  verdict: string;
  says: string;
  edge: string;
  stays_at_m: number | null;
}

export interface Watch {
  what: string;
  order: number | null;
  verdict: string;
  says: string;
  silent: string;
  stop_said: boolean;
  share: number;
  turns_to_go: string;
  channels: Watched[];
}

export interface Watched {
  name: string;
  at: string;
  now: string;
  must_read: string;
  band: string;
}

export interface Readings {
  readings: BookedReading[];
  last: string;
  last_place: string;
}

export interface BookedReading {
  entry: number;
  take: number;
  time: string;
  instrument: string;
  channel: string;
  station: number | null;
  mark: string;
  at_m: number;
  at: string;
  face: number;
  edge: string;
  set_up: string;
  value: string;
  sigma: string;
  residual: string;
  kept: boolean;
  fits: boolean;
  reason: string;
}

export interface Run {
  measured: boolean;
  holds: boolean;
  test: string;
  has_moves: boolean;
  stations: ShapeAt[];
  marks: Mark[];
  tilt: string;
  sag: string;
  sag_to_come: string;
  causes: Cause[];
  learned: Learned[];
  warnings: string[];
}

export interface ShapeAt {
  number: number;
  at_m: number;
  at: string;
  predicted_m: number;
  height_m: number;
  sigma_m: number;
  predicted_roll: number;
  roll: number;
  roll_sigma: number;
  left_before_m: number;
  right_before_m: number;
  left_after_m: number;
  right_after_m: number;
  predicted: string;
  height: string;
  sigma: string;
  roll_words: string;
  roll_sigma_words: string;
  left_before: string;
  right_before: string;
  left_after: string;
  right_after: string;
}

export interface Mark {
  entry: number;
  at_m: number;
  channel: string;
  edge: string;
  height_m: number;
  slope: number;
  roll: number;
  sigma: number;
  fits: boolean;
  words: string;
}

export interface Cause {
  chance: string;
  words: string;
}

export interface Learned {
  name: string;
  value: string;
  sigma: string;
  learned: string;
}

export interface Card {
  entry: number;
  enough: boolean;
  missing: string;
  hold_point: string;
  begun: boolean;
  says: string;
  reason: string;
  moves_are: string;
  trusted: boolean;
  moves: Move[];
  before: LevelError;
  after: LevelError;
  advice: string[];
  questions: HandQuestion[];
  troubles: string[];
  compared: Compared | null;
  stand: Stand | null;
}

export interface Move {
  order: number;
  support: string;
  by: AdjustBy;
  rise_m: number;
  pitch_rad: number;
  roll_rad: number;
  does: string;
  pieces: Piece[];
  turns: number;
  turns_words: string;
  slacken: string;
  keep: string;
  then: string[];
  when_stage: string;
  level_after: string;
  made: boolean;
}

export interface Piece {
  where: Where;
  thickness_m: number;
  name: string;
  count: number;
}

export type Where = "whole" | "near" | "far" | "left" | "right" | "near left" | "near right" | "far left" | "far right";

export interface LevelError {
  error_m: number | null;
  sigma_m: number | null;
  error: string;
  sigma: string;
  chance: string;
}

export interface HandQuestion {
  asks: string;
  answers: HandAnswer[];
}

export interface HandAnswer {
  says: string;
  command: string;
}

export interface Compared {
  survey: string;
  promised: string;
  promised_sigma: string;
  found: string;
  found_sigma: string;
  agrees: boolean;
  words: string;
}

export interface Stand {
  order: number;
  station: number;
  at: string;
  edge: string;
  instrument: string;
}

export interface Kit {
  instruments: KitInstrument[];
  check: Guide | null;
  last_check: string[];
  warnings: string[];
}

export interface KitInstrument {
  name: string;
  port: string;
  speaks: string;
  gives: string;
  calibration: string;
  checks: string[];
  can_zero: boolean;
  can_datum: boolean;
  can_scale_piece: boolean;
  can_scale_places: boolean;
  has_roll: boolean;
}

export interface Guide {
  instrument: string;
  what: string;
  step: number;
  steps: number;
  instruction: string;
  in_doubt: boolean;
  found: string[];
}

export interface Record {
  book: string;
  surveys: Survey[];
  seals: Seal[];
}

export interface Survey {
  id: string;
  stage: string;
  begun: string;
  kept: number;
  set_aside: number;
  moves: number;
  open: boolean;
}

export interface Seal {
  number: number;
  code: string;
  time: string;
}

export interface Recheck {
  from: string;
  to: string;
  from_time: string;
  to_time: string;
  answer: string;
  says: string;
  trouble: string;
  heights_compared: boolean;
  marks: string[];
  causes: Moved[];
  drift_verdict: string;
  drift: string;
  drift_reasons: string[];
  level_from: string;
  level_to: string;
  level_sigma: string;
  stations: ChangedAt[];
  seen: ChangeSeen[];
  trends: string[];
  cannot_be_told_apart: string[];
  remarks: string[];
}

export interface Moved {
  words: string;
  or_else: string;
}

export interface ChangedAt {
  at_m: number;
  at: string;
  from_m: number;
  to_m: number;
  change_m: number;
  sigma_m: number;
  from: string;
  to: string;
  change: string;
  sigma: string;
}

export interface ChangeSeen {
  name: string;
  value: string;
  sigma: string;
  smallest: string;
  chance: string;
}

export interface Clock {
  now_ms: number;
}

export interface Answer {
  id: number;
  done: boolean;
  words: string;
}

export interface Asked {
  id: number;
  command: string;
  seen: number;
  pressed_ms: number | null;
  page: string | null;
}
