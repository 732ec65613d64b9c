// A move under watch: what must be read is shown while it is made; a bracket that gives is said as "stop" at once; the book keeps
// what was seen. Then the same of a load that comes on.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, connected, look, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// Asked until everything has settled: what stands in the way is that alone.
async function askedOnceSettled(phone, command) {
  await phone.until(({live}) => live.instruments.every(each => each.channels.every(channel => channel.gives === "temperature" || channel.settled)), "settled");
  const {done, words} = await phone.ask(command);
  if (!done && /settled/.test(words)) return askedOnceSettled(phone, command);
  assert.ok(done, `${command}: ${words}`);
}

/// Said in large words, and no value, verdict, share or turn is left.
async function assertUnknown(page, name) {
  const watched = region(page, texts.watch.name);
  await watched.getByRole("alert").getByText(new RegExp(`Nothing is known: .*${name}.* silent`)).waitFor();
  // At one instant: on a busy machine the page may tell something else between two questions.
  const {items, bars, text, size} = await watched.evaluate(node => ({
    items: node.querySelectorAll("li").length, bars: node.querySelectorAll("progress").length, text: node.innerText,
    size: parseFloat(getComputedStyle(node.querySelector("[role=alert] p")).fontSize)}));
  assert.deepEqual([items, bars], [0, 0]);
  assert.doesNotMatch(text, /turn up|turn down|must read|done/i);
  assert.ok(size >= 20, `${size} px`);
}

/// What the page is told of the watch is that. Within the page: by way of the browser's driver every frame takes two turns through it,
/// which on a busy machine come later and later.
async function told(page, watch) {
  await page.addInitScript(watch => {
    window.WebSocket = class extends WebSocket {
      set onmessage(hear) {
        this.addEventListener("message", ({data}) => {
          const topics = JSON.parse(data);
          if (topics.watch) topics.watch = watch;
          hear({data: JSON.stringify(topics)});
        });
      }
    };
  }, watch);
}

// By hand-made messages: also where those that speak still tell what they told, and where the connection itself falls silent.
test("under watch nothing that is old looks live", async t => {
  const site = await Site.begin(t);
  const channels = ["slope", "roll"].map(gives => ({name: `walking inclinometer ${gives}`, at: "700 mm", now: "+1.10 mm/m", must_read: "+2.40 mm/m", band: "0.05 mm/m"}));
  const done = {what: "move 1: east rod, rise 3.06 mm", order: 1, verdict: "done", says: "Done: tick it.", silent: "", stop_said: false,
                share: 1, turns_to_go: "1/4 turn up", channels};
  for (const {silent, tells} of [
    {silent: true, tells: {...done, verdict: "", says: "", share: 0, turns_to_go: "", channels: [], silent: "walking inclinometer"}},
    {silent: true, tells: {...done, silent: "walking inclinometer"}},
    {silent: false, tells: done}]) {
    const page = await openPage(t, browser, site.url, {prepare: page => told(page, tells)});
    await connected(page);
    if (!silent) {
      await region(page, texts.watch.name).getByText(done.says).waitFor();
      site.daemon.child.kill("SIGSTOP");
      await region(page, texts.watch.name).getByRole("alert").getByText(texts.watch.noConnection).waitFor();
      assert.equal(await region(page, texts.watch.name).getByRole("listitem").count(), 0);
      site.daemon.child.kill("SIGCONT");
    } else {
      await assertUnknown(page, "walking inclinometer");
      assertNoFaults(page);
    }
    await page.close();
  }
});

test("a move under watch shows what must be read, and says stop when a bracket gives", {timeout: 600_000}, async t => {
  const site = await Site.begin(t, {seed: 3});  // of which the card wants moves
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, {path: "/#card"});
  await connected(page);
  await readAll(site, phone);
  assert.equal(phone.topics.card.hold_point, "shim first", phone.topics.card.reason);
  await phone.do("begin moves");
  const {stand, moves} = await phone.until(({card}) => card.begun && card.stand && card, "where to stand");
  const move = moves.find(each => each.order === stand.order);
  const {face} = phone.topics.work;
  await site.put(`${stand.at} face ${face === 1 ? 1 : 2}`);
  await phone.do(`station ${stand.station}`);
  await askedOnceSettled(phone, `watch ${move.order}`);
  await phone.until(({watch}) => watch?.verdict === "on the way", "that it is watched");
  await region(page, texts.watch.name).getByText(phone.topics.watch.what, {exact: true}).waitFor();
  assert.match((await phone.ask("take")).words, /under watch/);
  assert.ok(phone.topics.watch.channels.length >= 4, "the instrument that stays is watched as well");
  await look(page, "under watch");

  const part = share => site.control(`move ${move.support} ${share * move.rise_m} ${share * move.pitch_rad} ${share * move.roll_rad}`);
  await part(0.5);
  await phone.until(({watch}) => watch.verdict === "on the way" && Math.abs(watch.share - 0.5) < 0.1, "half of the way");
  await part(0.5);
  await phone.until(({watch}) => watch.verdict === "done", "that it is done");

  // Another support gives: the run answers otherwise than predicted.
  const other = phone.topics.job.supports.find(each => each.name !== move.support && phone.topics.work.supports.includes(each.name));
  await site.control(`move ${other.name} -0.003 0 0.002`);
  await phone.until(({watch}) => watch.verdict === "stop", "stop");
  await region(page, texts.watch.name).getByRole("alert").getByText(phone.topics.watch.says.slice(0, 30), {exact: false}).waitFor();
  await look(page, "stop");
  await site.control(`move ${other.name} 0.003 0 -0.002`);
  await phone.until(({watch}) => watch.verdict === "done", "that it is as it was");

  // An instrument that falls silent: nothing is known any more, and nothing of what was looks live.
  await site.control("unplug walking inclinometer");
  await assertUnknown(page, "walking inclinometer");
  await look(page, "silent under watch");
  await site.control("plug in walking inclinometer");
  await phone.until(({watch}) => watch.verdict === "done", "that it reads again");
  await region(page, texts.watch.name).getByText(phone.topics.watch.channels[0].must_read).first().waitFor();

  const from = site.daemon.lines.length;
  await phone.do(`made ${move.order}`);
  const {text} = await site.event(({event, text}) => event === "watch" && /ticked as made/.test(text), "what was seen", from);
  assert.match(text, /read .* before, .* now, due .*"stop" was said on the way/);
  await phone.until(({watch}) => watch.what === "", "that nothing is watched any more");
  assertNoFaults(page);
});

test("a load comes on under watch", {timeout: 600_000}, async t => {
  const site = await Site.begin(t, {seed: 5, stage: "dressed"});
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await readAll(site, phone);
  await askedOnceSettled(phone, "watch stage");
  await phone.until(({watch}) => watch?.verdict === "on the way", "that it is watched");
  await site.control("stage in use");
  await phone.until(({watch}) => watch.share > 0.5, "that most of it is on");
  assert.notEqual(phone.topics.watch.verdict, "stop", phone.topics.watch.says);
  assert.ok(!phone.topics.watch.stop_said);
  const from = site.daemon.lines.length;
  await phone.do("stage in use");
  await site.event(({event, text}) => event === "watch" && /stage in use under watch/.test(text), "what was seen", from);
  assert.equal(phone.topics.work.stage, "in use");
  assertNoFaults(page);
});
