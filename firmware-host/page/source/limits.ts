// limits.ts: every time that the page goes by, in ms. "No source": chosen by us, for the reason beside it.

// A button that has become another refuses what is pressed for so long: the press may have been meant for the one before.
// No source: a finger that is on its way takes about 0.2 s to press; twice that, and a little more for gloves.
export const kJustBecame = 500;
// A take that was just done refuses another for so long: a second tap of the same finger. No source: two taps of one finger come
// within 0.5 s; readings that follow each other on purpose take longer, since an instrument must be still first.
export const kJustTaken = 1200;
// Words for screen readers are said once they have stood for so long. No source: what flickers faster is not worth a sentence.
export const kStands = 700;

// A lost connection is tried again after the first, doubling to the longest. No source: at once for a phone that only passed a
// wall; twenty times a minute at most for one that is away, which costs neither side anything to speak of.
export const kFirstDelay = 300, kLongestDelay = 3000;
// A connection, or a change that follows a command, is waited for so long. No source: on a local network either takes a tenth.
export const kPatience = 5000;
// The daemon sends four times a second. After so long without a frame nothing looks live any more, and it is asked
// for a small file; it counts as lost when that does not come. No source: nearly three of the daemon's own intervals, and with the
// time between two looks still under a second; then as long as a bad network may need.
export const kQuiet = 700, kLook = 150, kProbePatience = 2000;

// What was done is told for so long, or until something else is asked. No source: time to look up from the wrench and read it.
export const kDone = 15_000;

// The trend of an instrument that stays goes back so far, in steps of so long, each with its least and its greatest value; without
// a value for so long its line is broken. No source: a minute shows a gust and what was before it; two steps a pixel; a lost second shows.
export const kTrend = 60_000, kTrendStep = 250, kTrendGap = 1000;

// How much of what was learnt of the daemon's clock fades, ms in each ms. No source: ten times what two clocks drift apart.
export const kDrift = 0.001;
