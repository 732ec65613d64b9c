// An old book on a phone: compared with its earlier survey, before anything is read and after a support has sunk; a stable
// mark ties the two. At every width, light and dark.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, look, openBrowser, openPage} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

const kLongest = 900_000;
const kMark = '[[mark]]\nname = "column by the door"\nat = "-400 mm"\n', kName = "column by the door";
const withMark = text => (text.includes("[[stage]]") ? text.replace(/\[\[mark\]\][^[]*/g, "") + kMark : text);
let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

/// The mark, by the page's own list of places; by hand at the instruments.
async function readMark(site, phone, page) {
  await goTo(page, "now");
  await site.put(kName);
  await page.getByRole("button", {name: new RegExp(`, ${texts.now.choose}$`)}).click();
  const places = page.getByRole("dialog", {name: texts.now.stations});
  await look(page, "stations and marks");
  await places.getByRole("button", {name: new RegExp(`^${kName} `)}).click();
  await phone.until(({work}) => work.mark === kName && work.station === null, "the mark");
  await page.getByText(texts.now.distanceOnly, {exact: true}).waitFor();
  const {done, words} = await phone.ask("take");
  assert.ok(done, words);
  const taken = phone.topics.readings.readings.filter(({mark}) => mark === kName);
  assert.ok(taken.every(({channel, station, at}) => channel === "distance" && station === null && at === `mark ${kName}`), JSON.stringify(taken));
  await page.getByText(`mark ${kName}`, {exact: false}).first().waitFor();
  return taken.length;
}

test("from an old book to what moved", {timeout: kLongest}, async t => {
  const site = await Site.begin(t, {seed: 7, change: withMark});
  let phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  assert.deepEqual(phone.topics.job.marks.map(({name, at_m}) => [name, at_m]), [[kName, -0.4]]);
  await readAll(site, phone);
  assert.equal(await readMark(site, phone, page), 1);
  await goTo(page, "record");
  assert.equal(await button(page, texts.record.compare("1")).count(), 0, "the survey under way is compared with no one");
  site.daemon.say("done");
  await site.event(({event}) => event === "done", "that the survey is closed");

  await site.control("move east rod -0.0008 0 0");
  await site.startDaemon();
  phone = await Phone.connect(t, site.url);
  page = await openPage(t, browser, site.url);
  await connected(page);
  await goTo(page, "record");
  await button(page, texts.record.compare("1")).click();
  await page.locator('[data-view="recheck"]').waitFor();
  await page.getByText(texts.recheck.cannot("nothing has been read"), {exact: false}).waitFor();
  await look(page, "nothing read yet");

  await readAll(site, phone);
  await readMark(site, phone, page);
  await phone.until(({recheck}) => recheck.answer === "moved", "that something moved");
  const {recheck} = phone.topics;
  assert.equal(recheck.from, "1");
  assert.equal(recheck.heights_compared, true);
  // One distance to one mark, both times, is too rough to tell a rod that sank from a bracket that rose: both are said.
  assert.match(recheck.causes.map(({words, or_else}) => `${words}, or else ${or_else}`).join("; "), /east rod/);
  await goTo(page, "record");
  await page.getByRole("link", {name: texts.record.toRecheck("1"), exact: true}).click();
  await page.getByText(recheck.causes[0].words.replace(" +- ", " ± "), {exact: true}).first().waitFor();
  await page.getByText(texts.recheck.byMarks(kName), {exact: true}).waitFor();
  for (const name of [texts.recheck.shapes, texts.recheck.change]) await page.getByRole("region", {name, exact: true}).getByRole("img").waitFor();
  await look(page, "what moved");
  for (const summary of await page.locator("summary").all()) await summary.click();
  await look(page, "what moved, with all tables");

  const {done, words} = await phone.ask("recheck 17");
  assert.ok(!done && words.includes('no survey "17"'), words);
  assertNoFaults(page);
});
