// Several phones at once: all see the same, no two can contradict each other, and a daemon that was killed and started anew has
// them all back by themselves.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// The button that says where the instruments stand.
const standing = (page, at) => page.getByRole("button", {name: new RegExp(`^${at} .*${texts.now.choose}$`)});

test("two phones see the same, whoever acts", async t => {
  const site = await Site.begin(t);
  const one = await openPage(t, browser, site.url), two = await openPage(t, browser, site.url, {width: 412, height: 915});
  for (const page of [one, two]) await connected(page);
  await site.put("700 mm face 1");
  for (const at of ["0 mm", "700 mm"]) {
    await button(one, texts.now.nextStation).tap();
    for (const page of [one, two]) await standing(page, at).waitFor();
  }
  await button(two, texts.now.face2).tap();
  for (const page of [one, two]) await page.getByRole("button", {name: texts.now.face2, exact: true, pressed: true}).waitFor();

  await region(one, texts.now.dock).getByRole("button", {name: /^Take/}).tap();
  const {text} = await site.event(({event}) => event === "taken", "readings");
  assert.match(text, /700 mm, face 2/);
  const third = await Phone.connect(t, site.url);
  const last = await third.until(({readings}) => readings?.last, "the readings on a third phone");
  assert.match(last, /700 mm/);
  for (const page of [one, two]) await region(page, texts.now.dock).getByText(last, {exact: true}).waitFor();

  for (const page of [one, two]) await goTo(page, "record");
  const book = async page => region(page, texts.record.readings).innerText();
  await until(async () => (await book(one)) === (await book(two)) && (await book(one)).includes("700 mm"), "the same readings on both");
  for (const page of [one, two]) assertNoFaults(page);
});

test("a command by somebody who has not seen the latest is refused with a sentence", async t => {
  const site = await Site.begin(t);
  const early = await Phone.connect(t, site.url), late = await Phone.connect(t, site.url);
  const {revision} = late.topics.work;
  assert.ok((await early.ask("station 2")).done);
  for (const command of ["take", "station 5", "face 2", "seal", "read again"]) {
    const {done, words} = await late.ask(command, revision);
    assert.equal(done, false, command);
    assert.match(words, /^[^{}]{20,}$/, command);
  }
  assert.equal(site.all("taken").length + site.all("sealed").length, 0);
  // Two at the same moment, both of the same state: one of them is done.
  const seen = early.topics.work.revision;
  const both = await Promise.all([early.ask("station 3", seen), late.ask("station 4", seen)]);
  assert.deepEqual(both.map(({done}) => done).sort(), [false, true]);
});

test("a page that shows the old state says that it was refused, and then shows the new one", async t => {
  const site = await Site.begin(t);
  const other = await Phone.connect(t, site.url), held = {messages: null};
  const page = await openPage(t, browser, site.url, {prepare: each => each.routeWebSocket(/\/live$/, socket => {
    held.socket = socket;
    socket.connectToServer().onMessage(message => (held.messages ? held.messages.push(message) : socket.send(message)));
  })});
  await connected(page);
  held.messages = [];
  assert.ok((await other.ask("station 4")).done);
  await button(page, texts.now.nextStation).tap();  // to station 1, as this one sees it
  await until(() => held.messages.some(message => message.includes('"answer"')), "an answer");
  for (const message of held.messages.splice(0)) held.socket.send(message);
  held.messages = null;
  const alert = page.getByRole("alert").filter({hasText: texts.refused});
  await alert.waitFor();
  await standing(page, "2100 mm").waitFor();
  assert.equal(other.topics.work.station, 4);
  await button(alert, texts.dismiss).tap();
  await alert.waitFor({state: "detached"});
});

test("a daemon that was killed and started anew: both pages are back by themselves, with the whole state", async t => {
  const site = await Site.begin(t);
  const one = await openPage(t, browser, site.url), two = await openPage(t, browser, site.url);
  for (const page of [one, two]) await connected(page);
  const phone = await Phone.connect(t, site.url);
  await site.put("1400 mm face 1");
  for (const command of ["station 3", "take", "card", "seal"]) assert.ok((await phone.ask(command)).done, command);
  await goTo(two, "record");
  const {code, number} = await phone.until(({record}) => record.seals[0], "a seal");
  const entries = phone.topics.readings.readings.map(({entry}) => entry);

  await site.daemon.kill("SIGKILL");
  for (const page of [one, two]) await page.getByText(texts.link.lost, {exact: true}).waitFor();
  // Nothing can be asked of a daemon that is not there.
  await until(async () => (await region(one, texts.now.dock).getByRole("button", {name: /^Take/}).getAttribute("aria-disabled")) === "true", "no take");
  await site.startDaemon();
  for (const page of [one, two]) await connected(page);
  await two.getByText(`${number} ${code}`, {exact: true}).waitFor();
  for (const entry of entries) await two.getByText(texts.record.entry(entry), {exact: true}).waitFor();
  assert.equal(await two.getByText(texts.link.lost, {exact: true}).count(), 0);
  // And they work: the one goes on, the other sees it.
  await goTo(two, "now");
  await button(one, texts.now.nextStation).tap();
  await standing(two, "0 mm").waitFor();
  for (const page of [one, two]) assertNoFaults(page);
});

test("a daemon that stands still: nothing looks live any more, and it is back by itself", async t => {
  const site = await Site.begin(t), page = await openPage(t, browser, site.url);
  await connected(page);
  site.daemon.child.kill("SIGSTOP");
  await page.locator(".frame.lost").waitFor();
  await page.locator(".since").getByText(/since \d+ s/).waitFor();
  site.daemon.child.kill("SIGCONT");
  await page.locator(".frame.lost").waitFor({state: "detached"});
  await connected(page);
  assertNoFaults(page);
});
