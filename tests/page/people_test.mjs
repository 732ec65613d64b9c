// The page for whoever uses it otherwise than by looking and touching, or comes to it for the first time on a network.
import assert from "node:assert/strict";
import {after, before, test} from "node:test";

import {assertAccessible, assertNoFaults, button, connected, faintText, goTo, kViews, openBrowser, openPage, overflow, region, smallTargets} from "./support/browser.mjs";
import {texts} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until} from "./support/waiting.mjs";

let browser;
before(async () => void (browser = await openBrowser()));
after(() => browser?.close());

test("a phone is paired by typing the code, and stays so", async t => {
  const site = await Site.begin(t, {address: "0.0.0.0:0"});
  const {code} = await site.event(({event}) => event === "pairing", "the pairing code");
  const url = `http://127.0.0.1:${site.port}/`;
  const page = await openPage(t, browser, url, {width: 320, height: 568});
  for (const colorScheme of ["dark", "light"]) {
    await page.emulateMedia({colorScheme});
    assert.deepEqual(await faintText(page), [], colorScheme);
  }
  assert.deepEqual(await overflow(page), []);
  assert.deepEqual(await smallTargets(page), []);
  const field = page.getByRole("textbox");
  await field.fill(code.replace(/\d/, digit => String((Number(digit) + 1) % 10)));
  await page.keyboard.press("Enter");
  await page.getByRole("alert").waitFor();
  await page.getByRole("textbox").fill(code);
  await page.getByRole("button").click();
  await connected(page);
  await page.reload();
  await connected(page);
  assertNoFaults(page);
  const other = await openPage(t, browser, url);
  await other.getByRole("textbox").waitFor();
  assert.equal(await other.getByRole("navigation").count(), 0);
});

test("every view has its heading, its landmarks and names for all that can be used", async t => {
  const site = await Site.begin(t);
  const page = await openPage(t, browser, site.url);
  await connected(page);
  for (const view of kViews) {
    await goTo(page, view);
    assert.equal(await page.getByRole("heading", {level: 1}).count(), 1, view);
    assert.equal(await page.title(), texts.titleOf(texts.views[view]));
    assert.equal(await page.getByRole("main").count(), 1, view);
    assert.equal(await page.getByRole("link", {name: texts.views[view], exact: true}).getAttribute("aria-current"), "page");
    // The heading has the focus, so that a screen reader begins there.
    if (view !== "now") await until(() => page.evaluate(() => document.activeElement?.tagName === "H1"), `focus on the heading of ${view}`);
    const nameless = await page.evaluate(() => [...document.querySelectorAll("svg")].filter(svg =>
      !svg.closest("[aria-hidden=true]") && !(svg.getAttribute("role") === "img" && (svg.getAttribute("aria-label") || svg.getAttribute("aria-labelledby")))
    ).map(svg => svg.outerHTML.slice(0, 100)));
    assert.deepEqual(nameless, [], view);
  }
});

test("what to do next is announced when it has settled", async t => {
  const site = await Site.begin(t);
  const phone = await Phone.connect(t, site.url), page = await openPage(t, browser, site.url);
  await connected(page);
  await site.put("0 mm face 1");
  assert.ok((await phone.ask("station 1")).done);
  const words = texts.next.take("0 mm", texts.face(1));
  await region(page, texts.now.next).getByText(words, {exact: true}).first().waitFor();
  await page.getByRole("status").filter({hasText: words}).waitFor({state: "attached"});
});

test("nothing moves for those who asked for reduced motion", async t => {
  const site = await Site.begin(t);
  const page = await openPage(t, browser, site.url, {reducedMotion: "reduce"});
  await connected(page);
  for (const view of kViews) {
    await goTo(page, view);
    const moving = await page.evaluate(() => {
      const seconds = text => Math.max(...text.split(",").map(each => parseFloat(each) * (/ms$/.test(each.trim()) ? 0.001 : 1)));
      return [...document.querySelectorAll("*")].flatMap(node => ["", "::before", "::after"].map(part => [node, getComputedStyle(node, part)]))
        .filter(([, style]) => (style.animationName !== "none" && seconds(style.animationDuration) > 0.05) || (style.transitionProperty !== "none" && seconds(style.transitionDuration) > 0.05) || style.scrollBehavior === "smooth")
        .map(([node]) => `${node.tagName} ${node.getAttribute("class")}`);
    });
    assert.deepEqual(moving, [], view);
  }
});

test("sun and dark as this phone was told, whatever the system says", async t => {
  const site = await Site.begin(t);
  const page = await openPage(t, browser, site.url, {colorScheme: "light", path: "/#kit"});
  await connected(page);
  const ground = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor.match(/\d+/g).slice(0, 3).reduce((sum, each) => sum + Number(each), 0));
  assert.ok((await ground()) > 600);
  await button(page, texts.kit.lights.dark).click();
  await until(async () => (await ground()) < 165, "a dark page");
  assert.deepEqual(await faintText(page), []);
  await page.reload();
  await connected(page);
  assert.ok((await ground()) < 165, "it is remembered");
  await button(page, texts.kit.lights.sun).click();
  await until(async () => (await ground()) > 600, "a light page");
  assert.deepEqual(await faintText(page), []);
  await assertAccessible(page, "kit");
});
