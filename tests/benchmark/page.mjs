// What the page costs and how quick it is, with the shipped daemon and a browser. Asserts nothing.
//
//   wire to pixel    from the writing of a sentence to a pseudo-terminal to the frame after the one in which the page's number
//                    changed, on 8 pages in one browser; 10 sentences a second, each with another number. Both ends by the wall
//                    clock. The browser draws without a graphics card, beside daemon and instruments on the same machine.
//   first view       from the navigation, with an empty cache, to the frame after the first live number
//   weight           of all files, as sent
//   memory           resident, of the daemon, without a phone and with 20
import {spawn} from "node:child_process";
import {mkdtempSync, readFileSync, rmSync, writeFileSync} from "node:fs";
import {tmpdir} from "node:os";
import {dirname, join} from "node:path";
import {createInterface} from "node:readline";
import {fileURLToPath} from "node:url";

import {openBrowser} from "../page/support/browser.mjs";
import {daemon, data} from "../page/support/packages.mjs";
import {Phone} from "../page/support/phone.mjs";
import {Program} from "../page/support/site.mjs";
import {until} from "../page/support/waiting.mjs";

const kPages = 8, kPhones = 20, kRate = 10, kStep = 0.05;  // a second; mm/m, each another number on the page
const kSeconds = Number(process.env.HANGTRUE_BENCH_SECONDS ?? 60), kLoads = 15;

const ends = [], t = {after: end => ends.push(end)};
const directory = mkdtempSync(join(tmpdir(), "hangtrue-page-bench-"));
const wire = spawn("python3", [join(dirname(fileURLToPath(import.meta.url)), "wire.py"), String(kRate), String(kStep)], {stdio: ["pipe", "pipe", "inherit"]});
const sent = new Map();  // the number said: when last
let terminal = "";
createInterface({input: wire.stdout}).on("line", line => {
  if (!terminal) return void (terminal = line);
  const [number, seconds] = line.split(" ").map(Number);
  sent.set(number, [...(sent.get(number) ?? []), seconds * 1000]);
});
await until(() => terminal, "a terminal");

const kit = join(directory, "kit.toml");
writeFileSync(kit, `[[instrument]]
name = "inclinometer"
port = ${JSON.stringify(terminal)}
baud = 38400
speaks = "xdr"
[[instrument.channel]]
transducer = "PITCH"
gives = "slope"
sigma = "0.02 mm/m"
zero_sigma = "0.3 mm/m"
settle = { window = "2 s", spread = "0.08 mm/m" }
station = "walking"
`);
const program = new Program(daemon, [join(data, "runs/reading-room-bridge-shelf.toml"), kit, "--book", join(directory, "b.levelbook"), "--json-lines",
                                     "--page", "127.0.0.1:0"]);
const {address} = JSON.parse(await program.line(line => JSON.parse(line).event === "page", "its page"));

const sorted = values => [...values].sort((a, b) => a - b);
const share = (values, part) => sorted(values)[Math.min(values.length - 1, Math.floor(part * values.length))];
const ms = value => `${value.toFixed(1)} ms`;
const row = (what, ...columns) => console.log(`  ${what.padEnd(46)}${columns.join("   ")}`);
const resident = () => Number(/^VmRSS:\s+(\d+)/m.exec(readFileSync(`/proc/${program.child.pid}/status`, "utf8"))[1]) / 1024;

// Numbers as they appear, each with the time of the frame after.
function watch() {
  globalThis.seen = [];
  let before = "";
  const look = () => {
    const words = document.querySelector(".reading .number")?.textContent ?? "";
    if (words === before || !/\d/.test(words)) return;
    before = words;
    requestAnimationFrame(() => globalThis.seen.push([words, performance.timeOrigin + performance.now(), performance.now()]));
  };
  new MutationObserver(look).observe(document, {subtree: true, childList: true, characterData: true});
}

const pause = seconds => new Promise(resolve => setTimeout(resolve, 1000 * seconds));
try {
  console.log(`The page of ${daemon}`);
  await pause(2);
  const alone = resident();
  for (let i = 0; i < kPhones; ++i) await Phone.connect(t, address);
  await pause(10);
  const together = resident();
  for (const end of ends.splice(0)) end();
  row("memory of the daemon", `without a phone ${alone.toFixed(1)} MB`, `with ${kPhones} ${together.toFixed(1)} MB`);

  const browser = await openBrowser();
  ends.push(() => browser.close());
  let weight = [];
  for (const throttle of [1, 4]) {
    const times = [];
    for (let i = 0; i < kLoads; ++i) {
      const context = await browser.newContext({viewport: {width: 390, height: 844}}), page = await context.newPage();
      await (await context.newCDPSession(page)).send("Emulation.setCPUThrottlingRate", {rate: throttle});
      await page.addInitScript(watch);
      await page.goto(address);
      times.push(await until(() => page.evaluate(() => globalThis.seen[0]?.[2]), "a live number"));
      weight = await page.evaluate(() => [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")]
          .filter(each => each.encodedBodySize > 0).map(each => [new URL(each.name).pathname, each.encodedBodySize, each.decodedBodySize]));
      await context.close();
    }
    row(`first view${throttle > 1 ? `, processor ${throttle} times slower` : ""}`, `median ${ms(share(times, 0.5))}`, `longest ${ms(share(times, 1))}`, `of ${times.length}`);
  }
  row("weight, as sent", `${(weight.reduce((sum, each) => sum + each[1], 0) / 1000).toFixed(1)} kB`, weight.map(([path, size]) => `${path} ${(size / 1000).toFixed(1)}`).join(", "));

  const pages = [];
  for (let i = 0; i < kPages; ++i) {
    const page = await (await browser.newContext({viewport: {width: 390, height: 844}})).newPage();
    await page.addInitScript(watch);
    await page.goto(address);
    pages.push(page);
  }
  await pause(3);
  for (const page of pages) await page.evaluate(() => (globalThis.seen = []));
  const begun = Date.now();
  await pause(kSeconds);
  const delays = [];
  let changes = 0;
  for (const page of pages)
    for (const [words, at] of await page.evaluate(() => globalThis.seen)) {
      ++changes;
      const number = Math.round(Number(words) / kStep), times = sent.get(number) ?? [];
      const last = times.filter(time => time <= at).at(-1);
      if (last !== undefined) delays.push(at - last);
    }
  const lines = [...sent.values()].flat().filter(time => time >= begun && time < begun + 1000 * kSeconds).length;
  row(`wire to pixel, ${kPages} pages, ${kRate} a second`, `p50 ${ms(share(delays, 0.5))}`, `p99 ${ms(share(delays, 0.99))}`, `longest ${ms(share(delays, 1))}`, `of ${delays.length}`);
  row("", `${lines} sentences on the wire, ${(changes / kPages).toFixed(0)} numbers on each page`);
} finally {
  for (const end of ends) await end();
  await program.kill();
  wire.stdin.end();
  rmSync(directory, {recursive: true, force: true});
}
