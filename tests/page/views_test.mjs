// Every view in every state of the work, at every width, light and dark, in metric and in inches: nothing beyond the edge, no
// target too small for a glove, text that can be read in the sun, and axe-core without a finding.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertNoFaults, button, connected, goTo, kViews, look, openBrowser, openPage, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, makeMove, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";

const kLongest = 900_000;
let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

async function lookAtAll(page, where) {
  for (const view of kViews) {
    await goTo(page, view);
    await look(page, `${where}: ${view}`);
  }
}
/// A dialog that this button opens.
async function lookAtDialog(page, opener, where) {
  await opener.click();
  const dialog = page.getByRole("dialog");
  await dialog.waitFor();
  await look(page, where);
  await page.keyboard.press("Escape");
  await dialog.waitFor({state: "detached"});
}

for (const sheets of ["metric", "imperial"]) {
  test(`from the first reading to the comparison, ${sheets}`, {timeout: kLongest}, async t => {
    const site = await Site.begin(t, {sheets, seed: 3});
    const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
    await connected(page);
    await lookAtAll(page, "nothing read");

    await readAll(site, phone);
    await lookAtAll(page, "all read");
    await goTo(page, "now");
    await lookAtDialog(page, page.getByRole("button", {name: new RegExp(`, ${texts.now.choose}$`)}), "stations");
    await lookAtDialog(page, page.getByRole("button", {name: new RegExp(texts.now.change)}), "edge and set-up");
    await goTo(page, "record");
    const {entry} = phone.topics.readings.readings[0];
    await lookAtDialog(page, button(page, texts.record.correct(entry)), "correct");
    await lookAtDialog(page, button(page, texts.record.setAside(entry)), "set aside");
    await lookAtDialog(page, button(page, texts.record.seal), "seal");
    await lookAtDialog(page, button(page, texts.record.changeStage), "stage");

    assert.ok((await phone.ask("begin moves")).done);
    for (const {order} of phone.topics.card.moves) await makeMove(site, phone, order);
    await lookAtAll(page, "moves made");
    await goTo(page, "card");
    await lookAtDialog(page, button(page, texts.card.readAgain).first(), "read again");
    await phone.ask("read again");
    await readAll(site, phone);
    await phone.until(({card}) => card.compared, "a comparison");
    await phone.ask("seal");
    await lookAtAll(page, "compared and sealed");
    assertNoFaults(page);
  });
}

test("while a check goes on, an instrument is silent, something was refused, and the daemon is gone", {timeout: kLongest}, async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  assert.ok((await phone.ask("check zero walking inclinometer")).done);
  await lookAtAll(page, "zero check");
  await phone.ask("give up");
  await goTo(page, "kit");
  const datum = page.getByRole("button", {name: texts.kit.checkDatum("laser distance meter")});
  await lookAtDialog(page, datum, "datum check");
  await lookAtDialog(page, page.getByRole("button", {name: texts.kit.checkScale("walking inclinometer")}), "scale check");

  await site.control("unplug walking inclinometer");
  await site.control("unplug laser distance meter");
  await phone.until(({live}) => live.instruments.filter(each => !each.speaks).length === 2, "two that are silent");
  await lookAtAll(page, "unplugged");

  await goTo(page, "now");
  await button(page, texts.now.nextStation).click();
  await phone.until(({work}) => work.station === 1, "a station");
  await region(page, texts.now.dock).getByRole("button", {name: /^Take/}).click();
  await page.getByRole("alert").getByText(texts.refused, {exact: false}).waitFor();
  await look(page, "refused");

  await site.daemon.kill();
  await page.getByText(texts.link.lost, {exact: true}).waitFor();
  await lookAtAll(page, "no daemon");
});
