// Whether the memory of daemon and page stays as it is over a long time, with the shipped programs and a browser. Asserts nothing.
//
//   daemon   resident memory of its own (RssAnon of /proc/PID/status)
//   page     what its scripts hold after a collection of garbage (JSHeapUsedSize), nodes of the document, listeners
// Somebody is at work all the time: another station, face or view every two seconds, and instruments that send without end.
// Nothing is taken meanwhile: each reading that is taken is kept, and shown, on purpose.
// The growth is that of the straight line that fits best (least squares), from a quarter of the time on; before that caches fill.
//   HANGTRUE_BENCH_MINUTES (30), HANGTRUE_BENCH_RATE (samples a second of each instrument, 50)
import {readFileSync} from "node:fs";

import {goTo, kViews, openBrowser, openPage} from "../page/support/browser.mjs";
import {Phone} from "../page/support/phone.mjs";
import {Site} from "../page/support/site.mjs";

const kMinutes = Number(process.env.HANGTRUE_BENCH_MINUTES ?? 30), kRate = Number(process.env.HANGTRUE_BENCH_RATE ?? 50), kAct = 2000;

const ends = [], t = {after: end => ends.push(end)};
const pause = time => new Promise(resolve => setTimeout(resolve, time));
const MB = bytes => bytes / 1e6;

/// A minute, of values once a minute.
function growth(values) {
  const late = values.slice(Math.floor(values.length / 4)), mean = late.reduce((sum, each) => sum + each, 0) / late.length;
  const middle = (late.length - 1) / 2;
  const over = late.reduce((sum, each, i) => sum + (i - middle) * (each - mean), 0), under = late.reduce((sum, _, i) => sum + (i - middle) ** 2, 0);
  return under > 0 ? over / under : 0;
}

try {
  const site = await Site.begin(t, {rate: kRate, seconds: 60 * kMinutes + 600});
  const browser = await openBrowser();
  t.after(() => browser.close());
  const page = await openPage(t, browser, site.url), phone = await Phone.connect(t, site.url);
  const inspect = await page.context().newCDPSession(page);
  await inspect.send("Performance.enable");
  const stations = phone.topics.job.stations.length, rows = [], begun = Date.now();
  console.log(`  ${kRate} samples a second of each instrument\n  minute   daemon MB   page MB    nodes   listeners   frames to a phone`);
  for (let act = 0, next = 0; rows.length <= kMinutes; ++act) {
    await phone.ask(act % 2 ? `face ${1 + act % 4 % 3 % 2}` : `station ${1 + act / 2 % stations}`);
    if (act % 3 === 0) await goTo(page, kViews[act / 3 % kViews.length]);
    if (Date.now() - begun >= next) {
      next += 60_000;
      await goTo(page, kViews[0]);  // always the same to be measured
      await inspect.send("HeapProfiler.collectGarbage");
      const {metrics} = await inspect.send("Performance.getMetrics"), of = name => metrics.find(each => each.name === name).value;
      const own = Number(/^RssAnon:\s+(\d+)/m.exec(readFileSync(`/proc/${site.daemon.child.pid}/status`, "utf8"))[1]) * 1024;
      rows.push({daemon: MB(own), page: MB(of("JSHeapUsedSize")), nodes: of("Nodes"), listeners: of("JSEventListeners")});
      const {daemon, page: heap, nodes, listeners} = rows.at(-1);
      console.log(`  ${String(rows.length - 1).padStart(6)}${daemon.toFixed(2).padStart(12)}${heap.toFixed(2).padStart(10)}${String(nodes).padStart(9)}${String(listeners).padStart(12)}${String(phone.frames).padStart(20)}`);
    }
    await pause(kAct);
  }
  const each = name => growth(rows.map(row => row[name]));
  console.log(`  growth a minute: daemon ${(1000 * each("daemon")).toFixed(1)} kB, page ${(1000 * each("page")).toFixed(1)} kB, ` +
              `nodes ${each("nodes").toFixed(2)}, listeners ${each("listeners").toFixed(2)}`);
} finally {
  for (const end of ends.reverse()) await end();
}
