// Names out of sheets, and reasons typed by hand, that try to be more than text: they are shown as they are, everywhere.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertAccessible, assertNoFaults, button, connected, goTo, kViews, openBrowser, openPage, overflow, region} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone, readAll} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

const kLong = "x".repeat(200);
const kNames = {
  "Reading-room bridge shelf": `<img src=x onerror="alert('title')"> \u202e&amp;"'${kLong}`,
  "wall bracket": `<script>alert("support")</script>${kLong}`,
  "east rod": `\u202eright to left\u202c <b onmouseover=alert(1)>'"</b>`,
  "walking inclinometer": `<img src=x onerror=alert(2)>\u2067${"w".repeat(60)}`,
  "middle inclinometer": `"><svg onload=alert(3)>${kLong}`,
  "laser distance meter": `javascript:alert(4) \${7*7} {{7*7}} %s`,
  "second bolted": `</script><style>*{display:none}</style>\u200f${"s".repeat(80)}`,
  "in use": `<iframe srcdoc="<script>parent.alert(5)</script>">`,
};
const kReason = `<img src=x onerror=alert(6)> \u202e"'&lt; it was ${"long".repeat(15)}`;

test("hostile names are text on every view, and run over no edge", {timeout: 600_000}, async t => {
  const change = text => Object.entries(kNames).reduce((all, [name, hostile]) => all.replaceAll(`"${name}"`, JSON.stringify(hostile)), text);
  const site = await Site.begin(t, {change, stage: kNames["second bolted"]});
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url, {width: 320, height: 568});
  await connected(page);
  assert.equal(phone.topics.job.title, kNames["Reading-room bridge shelf"]);
  await readAll(site, phone);
  assert.ok((await phone.ask("card")).done);

  await goTo(page, "record");
  const {entry} = phone.topics.readings.readings[0];
  const dialog = page.getByRole("dialog");
  await button(page, texts.record.setAside(entry)).click();
  await dialog.getByRole("textbox", {name: texts.record.why}).fill(kReason);
  await button(dialog, texts.record.setAside(entry)).click();
  await phone.until(({readings}) => readings.readings.some(each => each.entry === entry && !each.kept), "one set aside");
  await region(page, texts.record.readings).getByText(kReason.trim(), {exact: true}).waitFor();

  const wanted = {now: ["walking inclinometer"], run: ["wall bracket", "east rod"], card: [], kit: ["walking inclinometer", "middle inclinometer", "laser distance meter"], record: ["second bolted"]};
  for (const view of kViews) {
    await goTo(page, view);
    for (const name of wanted[view])
      await until(async () => (await page.locator("body").evaluate(body => body.textContent)).includes(kNames[name]), `${name} on ${view}`);
    for (const width of [320, 412, 1280]) {
      await page.setViewportSize({width, height: 800});
      await until(async () => (await overflow(page)).length === 0, "", 10_000).catch(async () => assert.deepEqual(await overflow(page), [], `${view}, ${width} px`));
    }
    await page.setViewportSize({width: 320, height: 568});
    await assertAccessible(page, view);
    // What the page itself has, and nothing that came as a name.
    assert.deepEqual(await page.evaluate(() => [...document.querySelectorAll("img, iframe, script:not([src]), style, [onerror], [onload], [onmouseover], [src='x']")].map(node => node.outerHTML.slice(0, 80))), [], view);
  }
  assertNoFaults(page);

  const {survey} = phone.topics.work;
  const record = await fetch(new URL(`/record/${encodeURIComponent(survey)}.txt`, site.url));
  assert.equal(record.status, 200);
  assert.match(record.headers.get("content-type"), /^text\/plain/);
  assert.equal(record.headers.get("x-content-type-options"), "nosniff");
  assert.ok((await record.text()).includes(kNames["second bolted"]));
});
