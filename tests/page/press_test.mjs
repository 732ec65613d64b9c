// A person's press never vanishes: it does what the button says, or the page says in words why it does nothing.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, look, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

const alert = from => from.getByRole("alert").filter({hasText: texts.refused});

/// Presses that button the moment it is there, sooner than any finger: as soon as the page has drawn it.
const pressAtOnce = (page, name) => page.evaluate(name => {
  const press = () => {
    const found = [...document.querySelectorAll("button")].find(each => (each.getAttribute("aria-label") ?? each.textContent) === name);
    found?.click();
    return !!found;
  };
  if (!press()) new MutationObserver((_, watch) => press() && watch.disconnect()).observe(document.body, {subtree: true, childList: true, attributes: true, characterData: true});
}, name);

async function withOneReading(t) {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await site.put("0 mm face 1");
  for (const command of ["station 1", "take"]) {
    const {done, words} = await phone.ask(command);
    assert.ok(done, words);
  }
  return {site, phone, page, entry: phone.topics.readings.readings[0].entry};
}

test("a button of a view that was just opened does what it says", async t => {
  const {page, entry} = await withOneReading(t);
  await pressAtOnce(page, texts.record.setAside(entry));
  await goTo(page, "record");
  await page.getByRole("dialog", {name: texts.record.setAside(entry)}).waitFor();
  assertNoFaults(page);
});

// The browser tells the end of a dialog some time after it: what is pressed meanwhile must stay open.
for (const end of ["requestClose", "close"])  // as Escape does; as the browser does where Escape may not be refused
  test(`a dialog that is opened while another ends stays: ${end}`, async t => {
    const {page, entry} = await withOneReading(t);
    await goTo(page, "record");
    await button(page, texts.record.correct(entry)).click();
    const former = page.getByRole("dialog", {name: texts.record.correct(entry)});
    await former.waitFor();
    // Both in one go, before anything is told or drawn.
    await page.evaluate(([end, name]) => {
      document.querySelector("dialog")[end]();
      document.querySelector(`button[aria-label="${name}"]`).click();
    }, [end, texts.record.setAside(entry)]);
    await former.waitFor({state: "detached"});
    const dialog = page.getByRole("dialog", {name: texts.record.setAside(entry)});
    await dialog.waitFor();
    // What had to be told has been told by then.
    await page.evaluate(() => new Promise(resolve => requestAnimationFrame(() => setTimeout(resolve))));
    assert.equal(await dialog.count(), 1);
    await page.keyboard.press("Escape");
    await dialog.waitFor({state: "detached"});
    assertNoFaults(page);
  });

test("a button that has just become another refuses in words, and takes the next press", async t => {
  const {phone, page, entry} = await withOneReading(t);
  await goTo(page, "record");
  await button(page, texts.record.setAside(entry)).waitFor();
  await pressAtOnce(page, texts.record.putBack(entry));
  const {done, words} = await phone.ask(`set aside ${entry} somebody leaned on it`);
  assert.ok(done, words);
  await alert(page).getByText(texts.justBecame, {exact: false}).waitFor();
  assert.equal(await page.getByRole("dialog").count(), 0);
  await look(page, "a press that was refused");

  await button(page, texts.record.putBack(entry)).click();
  const dialog = page.getByRole("dialog", {name: texts.record.putBack(entry)});
  await dialog.waitFor();
  assert.equal(await alert(page).count(), 0, "what was refused before is no news any more");

  // A form that cannot be sent says why, where the person looks.
  await dialog.getByRole("textbox", {name: texts.record.why}).fill("   ");
  await button(dialog, texts.record.putBack(entry)).click();
  await alert(dialog).getByText(texts.record.whyMissing, {exact: false}).waitFor();
  await look(page, "a form that was refused");
  await dialog.getByRole("textbox", {name: texts.record.why}).fill("nobody did");
  await button(dialog, texts.record.putBack(entry)).click();
  await phone.until(({readings}) => readings.readings.find(each => each.entry === entry).kept, "that it is put back");
  assertNoFaults(page);
});

test("a button that is off says why when it is pressed", async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  const dock = region(page, texts.now.dock), force = {force: true};  // as a finger, which does not ask first
  await button(dock, texts.now.undo).click(force);
  await alert(page).getByText(texts.now.nothingTaken, {exact: false}).waitFor();
  await dock.getByRole("button", {name: /^Take/}).click(force);
  await alert(page).getByText(texts.now.takeNoStation, {exact: false}).waitFor();
  await button(page, texts.now.nextStation).click();
  await phone.until(({work}) => work.station === 1, "a station");
  await alert(page).waitFor({state: "detached"});

  await site.daemon.kill();
  await page.getByText(texts.link.lost, {exact: true}).waitFor();
  await button(page, texts.now.nextStation).click(force);
  await alert(page).getByText(texts.link.blocked, {exact: false}).waitFor();
  assertNoFaults(page);
});
