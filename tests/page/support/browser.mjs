// browser.mjs: the page in a browser, as a person has it: found by role and name, touched, read.
import assert from "node:assert/strict";

import {axeSource, chromium, chromiumPath, texts} from "./packages.mjs";
import {kPatience, until} from "./waiting.mjs";

const kFlags = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
                "--disable-component-update", "--disable-sync"];

export const kViews = Object.keys(texts.views);

/// A browser for one test file; close it in after().
export async function openBrowser() {
  const root = process.getuid?.() === 0;  // the sandbox does not run for root
  return chromium.launch({executablePath: chromiumPath, args: [...kFlags, ...(root ? ["--no-sandbox"] : [])]});
}

/// The page on a phone of that size. Whatever a test must never see is kept in page.faults: scripts that fail, dialogs,
/// requests to anywhere else.
export async function openPage(t, browser, url, {width = 390, height = 844, path = "", prepare = () => undefined, ...more} = {}) {
  const context = await browser.newContext({viewport: {width, height}, hasTouch: true, ...more});
  t.after(() => context.close());
  const page = await context.newPage();
  page.setDefaultTimeout(kPatience);
  page.faults = [];
  page.on("pageerror", error => page.faults.push(`error: ${error.message}`));
  page.on("dialog", dialog => {
    page.faults.push(`dialog: ${dialog.message()}`);
    void dialog.dismiss();
  });
  page.on("request", request => {
    if (new URL(request.url()).host !== new URL(url).host && !request.url().startsWith("data:"))
      page.faults.push(`request: ${request.url()}`);
  });
  await prepare(page);
  await page.goto(new URL(path, url).href);
  return page;
}

export function assertNoFaults(page) {
  assert.deepEqual(page.faults, []);
}

export async function connected(page) {
  await page.getByText(texts.link.connected, {exact: true}).waitFor();
}

export async function goTo(page, view) {
  await page.getByRole("navigation", {name: texts.nav}).getByRole("link", {name: texts.views[view], exact: true}).click();
  await page.locator(`[data-view="${view}"]`).waitFor();
}

export const button = (from, name) => from.getByRole("button", {name, exact: true});
export const region = (from, name) => from.getByRole("region", {name, exact: true});

/// By axe-core; contrast, which it asks less of, is for faintText().
export async function assertAccessible(page, where) {
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axeSource);
  const {violations} = await page.evaluate(() => globalThis.axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], resultTypes: ["violations"],
    rules: {"color-contrast": {enabled: false}},
  }));
  assert.deepEqual(violations.map(({id, nodes}) => `${id}: ${nodes.map(node => `${node.target} ${node.failureSummary}`).join(" | ")}`), [], where);
}

/// What goes beyond the window's width, or has cut text, in words.
export function overflow(page) {
  return page.evaluate(() => {
    const found = [], width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > width) found.push(`document: ${document.documentElement.scrollWidth} > ${width}`);
    // Whatever scrolls sideways on purpose (a wide table) says so by its style; hidden things for screen readers have no size.
    const scrolls = node => node && node !== document.body && (["auto", "scroll"].includes(getComputedStyle(node).overflowX) && node.scrollWidth > node.clientWidth && node.tabIndex >= 0 || scrolls(node.parentElement));
    for (const node of document.querySelectorAll("body *")) {
      const box = node.getBoundingClientRect(), style = getComputedStyle(node);
      if (box.width <= 1 || box.height <= 1 || style.visibility === "hidden" || scrolls(node.parentElement)) continue;
      if (box.right > width + 0.5 || box.left < -0.5) found.push(`${node.tagName} ${node.getAttribute("class")}: ${box.left} to ${box.right}`);
    }
    return found;
  });
}

/// Buttons, links and fields that are smaller than a glove needs.
export function smallTargets(page, least = 60) {
  return page.evaluate(least => {
    const found = [];
    for (let node of document.querySelectorAll("button, a[href], input, select, textarea, summary, [role=button], [tabindex='0']")) {
      if (node.matches("input[type=checkbox], input[type=radio]")) node = node.closest("label") ?? node;  // the label is touched
      const box = node.getBoundingClientRect();
      if (box.width === 0 || getComputedStyle(node).visibility === "hidden") continue;
      if (box.width < least - 0.01 || box.height < least - 0.01) found.push(`${node.tagName} "${node.textContent.trim().slice(0, 40)}": ${box.width} x ${box.height}`);
    }
    return found;
  }, least);
}

/// Text whose contrast with what is behind it is less than `least` (WCAG 2.2, relative luminance), in words.
export function faintText(page, least = 7) {
  return page.evaluate(least => {
    const canvas = document.createElement("canvas").getContext("2d", {willReadFrequently: true}), known = new Map();
    const colour = text => {
      if (!known.has(text)) {
        canvas.clearRect(0, 0, 1, 1);
        canvas.fillStyle = text;
        canvas.fillRect(0, 0, 1, 1);
        known.set(text, [...canvas.getImageData(0, 0, 1, 1).data]);
      }
      return [...known.get(text)];
    };
    const luminance = ([r, g, b]) => {
      const [lr, lg, lb] = [r, g, b].map(c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
      return 0.2126 * lr + 0.7152 * lg + 0.0722 * lb;
    };
    const over = (top, under) => top.slice(0, 3).map((c, i) => c * top[3] / 255 + under[i] * (1 - top[3] / 255));
    const behind = node => {
      if (!node) return [255, 255, 255];
      const own = colour(getComputedStyle(node).backgroundColor);
      return own[3] === 255 ? own.slice(0, 3) : over(own, behind(node.parentElement));
    };
    const opacity = node => (node ? Number(getComputedStyle(node).opacity) * opacity(node.parentElement) : 1);
    const found = [], walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const words = walker.currentNode.textContent.trim(), node = walker.currentNode.parentElement;
      if (!words || node.closest("noscript, script, style")) continue;
      const range = document.createRange();
      range.selectNodeContents(walker.currentNode);
      const box = range.getBoundingClientRect(), style = getComputedStyle(node);
      if (box.width <= 1 || style.visibility === "hidden" || node.getBoundingClientRect().width <= 1) continue;
      const svg = node.closest("svg"), ground = behind(node);
      const ink = colour(svg ? style.fill : style.color);
      ink[3] *= opacity(node);
      const [a, b] = [luminance(over(ink, ground)), luminance(ground)].sort((x, y) => y - x);
      const ratio = (a + 0.05) / (b + 0.05);
      if (ratio < least) found.push(`"${words.slice(0, 40)}" ${ratio.toFixed(2)}`);
    }
    return found;
  }, least);
}

/// Words of programs and of whoever writes them, which nobody on a lift needs; in what is shown now.
export function programWords(page) {
  return page.evaluate(() => [...document.body.innerText.matchAll(/.*(zero_sigma|write sigma|--[a-z]+\b|daemon|speaks (xdr|modbus|line)|\/(dev|tmp|home|var)\/).*/g)].map(each => each[0]));
}

const kDrawn = 10_000;
const kSizes = [[320, 568], [360, 640], [640, 360], [412, 915], [820, 1180], [1280, 800]];
const kPictured = [[360, 640], [390, 844], [640, 360], [820, 1180]];
let pictures = 0;

/// Where HANGTRUE_PICTURES names a folder: what is shown now as pictures into it, for a person to look at.
export async function picture(page, where, sizes = kPictured, colours = ["light", "dark"]) {
  const folder = process.env.HANGTRUE_PICTURES;
  if (!folder) return;
  const name = `${String(++pictures).padStart(3, "0")}-${where.replace(/[^\w]+/g, "-")}`;
  for (const colorScheme of colours)
    for (const [width, height] of sizes) {
      await page.emulateMedia({colorScheme});
      await page.setViewportSize({width, height});
      await page.waitForTimeout(150);
      await page.screenshot({path: `${folder}/${name}-${width}-${colorScheme}.png`});
    }
}

/// What is shown now, at every size, light and dark.
export async function look(page, where) {
  const was = page.viewportSize();
  await picture(page, where);
  for (const [width, height] of kSizes) {
    await page.setViewportSize({width, height});
    // Drawings take the new width some frames later.
    for (const fault of [overflow, smallTargets])
      await until(async () => (await fault(page)).length === 0, "", kDrawn).catch(async () => assert.deepEqual(await fault(page), [], `${where}, ${width} px`));
  }
  await page.setViewportSize(was);
  for (const colorScheme of ["dark", "light"]) {
    await page.emulateMedia({colorScheme});
    assert.deepEqual(await faintText(page), [], `${where}, ${colorScheme}`);
  }
  assert.deepEqual(await programWords(page), [], where);
  await assertAccessible(page, where);
}
