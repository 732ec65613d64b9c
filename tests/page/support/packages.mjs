// packages.mjs: what the tests need from outside the source tree. CMakeLists.txt says in the environment where each is.
import {createRequire} from "node:module";
import {readFileSync} from "node:fs";
import {join} from "node:path";

function place(name) {
  const value = process.env[name];
  if (!value) throw new Error(`${name} is not set; ctest sets it`);
  return value;
}

export const command = place("HANGTRUE_COMMAND");  // hangtrue
export const daemon = place("HANGTRUE_DAEMON");    // hangtrued
export const data = place("HANGTRUE_DATA");
export const chromiumPath = process.env.HANGTRUE_CHROMIUM || "/usr/bin/chromium";

const require = createRequire(join(place("HANGTRUE_PACKAGES"), "package.json"));
export const {chromium} = require("playwright-core");
export const WebSocket = require("ws");
export const axeSource = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

/// Every text of the page, from its source: so tests find things by the names that people are given. In English, until a test speaks
/// another language.
export const {texts, english, german, speak} = await (async () => {
  const source = join(place("HANGTRUE_SOURCE"), "firmware-host/page/source/texts.ts");
  const esbuild = createRequire(join(place("HANGTRUE_PAGE_PACKAGES"), "package.json"))("esbuild");
  const {outputFiles} = esbuild.buildSync({entryPoints: [source], bundle: true, write: false, format: "esm"});
  return import(`data:text/javascript;base64,${Buffer.from(outputFiles[0].contents).toString("base64")}`);
})();
