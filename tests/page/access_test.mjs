// Who may read and do anything where the page is served beyond this machine: nobody who has not typed the code.
import assert from "node:assert/strict";
import {request} from "node:http";
import {networkInterfaces} from "node:os";
import {test} from "node:test";

import {WebSocket} from "./support/packages.mjs";
import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {within} from "./support/waiting.mjs";

const kEverywhere = "0.0.0.0:0";

/// {status, headers, text}: of one request, with nothing followed or remembered.
function ask(url, path, {method = "GET", headers = {}, body = ""} = {}) {
  return within(new Promise((resolve, reject) => {
    const {hostname, port} = new URL(url);
    const asked = request({hostname, port, path, method, agent: false, headers: {...(body && {"Content-Length": Buffer.byteLength(body)}), ...headers}}, response => {
      let text = "";
      response.setEncoding("latin1").on("data", chunk => (text += chunk)).on("end", () => resolve({status: response.statusCode, headers: response.headers, text}));
    });
    asked.on("error", reject);
    asked.end(body);
  }), `${method} ${path}`);
}
const pair = (url, code, headers = {}) => ask(url, "/pair", {
  method: "POST", body: `code=${encodeURIComponent(code)}`,
  headers: {Origin: new URL(url).origin, "Content-Type": "application/x-www-form-urlencoded", ...headers}});
const cookieOf = answer => answer.headers["set-cookie"]?.[0]?.split(";")[0] ?? "";

/// How an upgrade ended: "open", or the status it was refused with.
function upgraded(url, headers = {}) {
  const live = new URL("/live", url);
  live.protocol = "ws:";
  const socket = new WebSocket(live, {headers: {Origin: new URL(url).origin, ...headers}});
  return within(new Promise(resolve => {
    socket.on("open", () => resolve("open"));
    socket.on("unexpected-response", (_, response) => resolve(response.statusCode));
    socket.on("error", error => resolve(error.message));
  }), "an answer to an upgrade").finally(() => socket.terminate());
}

async function begin(t, options = {}) {
  const site = await Site.begin(t, {address: kEverywhere, ...options});
  site.code = (await site.event(({event}) => event === "pairing", "the pairing code")).code;
  assert.match(site.code, /^\d{4} \d{4}$/);
  site.url = `http://127.0.0.1:${site.port}/`;
  return site;
}
const wrongCode = code => code.replace(/\d/, digit => String((Number(digit) + 1) % 10));

/// By this machine's own addresses on the network, where it has any.
function addresses(site) {
  const own = Object.values(networkInterfaces()).flat().filter(each => each.family === "IPv4" && !each.internal).map(each => each.address);
  return ["127.0.0.1", ...own].map(address => `http://${address}:${site.port}/`);
}

test("an unpaired phone gets nothing on any route, by any method", async t => {
  const site = await begin(t);
  const secrets = ["bridge shelf", "inclinometer", "wall bracket", "levelbook", "second bolted"];
  for (const url of addresses(site)) {
    for (const path of ["/", "/page.js", "/page.css", "/icon.svg", "/index.html", "/live", "/pair", "/record/1.txt", "/record/../1.txt", "/..%2f..%2fetc/passwd",
                        "/%00", "//", "/favicon.ico", "/?code=1"]) {
      for (const method of ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH"]) {
        const answer = await ask(url, path, {method, headers: {Origin: new URL(url).origin}});
        const where = `${method} ${url}${path}: ${answer.status} ${answer.text.slice(0, 80)}`;
        if (answer.status === 200) assert.match(path, /^\/(\?|$)/, where);
        else assert.ok(answer.status >= 400, where);
        assert.equal(answer.headers["set-cookie"], undefined, where);
        for (const secret of secrets) assert.ok(!answer.text.includes(secret), where);
        assert.doesNotMatch(answer.text, /<script/i, where);
        assert.match(answer.headers["content-security-policy"] ?? "", /default-src 'none'/, where);
        assert.equal(answer.headers["x-content-type-options"], "nosniff", where);
      }
    }
    assert.equal(await upgraded(url), 403);
    assert.equal(await upgraded(url, {Cookie: "hangtrue=1; session=x"}), 403);
  }
  assert.equal(site.all("here").length, 0);
});

test("the code pairs one phone, for good, and no other", async t => {
  const site = await begin(t);
  const answer = await pair(site.url, site.code);
  assert.equal(answer.status, 303);
  const [set] = answer.headers["set-cookie"];
  assert.match(set, /; HttpOnly/i);
  assert.match(set, /; SameSite=Strict/i);
  const Cookie = cookieOf(answer);

  const page = await ask(site.url, "/", {headers: {Cookie}});
  assert.equal(page.status, 200);
  assert.match(page.headers["content-security-policy"], /script-src 'self'/);
  assert.doesNotMatch(page.headers["content-security-policy"], /unsafe/);
  const phone = await Phone.connect(t, site.url, {Cookie});
  assert.ok((await phone.ask("station 1")).done);
  assert.equal((await ask(site.url, "/record/1.txt", {headers: {Cookie}})).status, 200);

  // Another phone, a cookie that was changed, another site that has the phone's browser send its cookie.
  assert.equal(await upgraded(site.url), 403);
  for (const at of [0, Cookie.indexOf("=") + 1, Cookie.length - 1]) {
    const changed = Cookie.slice(0, at) + (Cookie[at] === "x" ? "y" : "x") + Cookie.slice(at + 1);
    assert.equal(await upgraded(site.url, {Cookie: changed}), 403);
  }
  assert.equal(await upgraded(site.url, {Cookie, Origin: "http://example.com"}), 403);
  assert.equal((await ask(site.url, "/record/1.txt", {headers: {Cookie, "Sec-Fetch-Site": "cross-site"}})).status, 403);

  // Killed and started anew: another code, the same phone.
  await site.daemon.kill();
  await site.startDaemon();
  site.url = `http://127.0.0.1:${site.port}/`;
  const again = await Phone.connect(t, site.url, {Cookie});
  assert.equal(again.topics.work.station, null);
  assert.equal(await upgraded(site.url), 403);
});

test("wrong codes are limited: then even the right one has to wait", async t => {
  const site = await begin(t);
  for (const junk of ["", "12", "no code", "123456789", "<script>alert(1)</script>"]) {
    const answer = await pair(site.url, junk);
    assert.equal(answer.status, 400, junk);
    assert.ok(!answer.text.includes(junk) || junk === "" || junk === "12", junk);
  }
  let tried = 0;
  for (let status = 403; status === 403; ++tried) {
    assert.ok(tried < 10, "no limit");
    ({status} = await pair(site.url, wrongCode(site.code)));
  }
  const late = await pair(site.url, site.code);
  assert.equal(late.status, 429);
  assert.ok(Number(late.headers["retry-after"]) > 0);
  assert.equal(late.headers["set-cookie"], undefined);
  assert.equal(await upgraded(site.url), 403);
  // From another site the code is not even looked at.
  assert.equal((await pair(site.url, site.code, {Origin: "http://example.com"})).status, 403);
});

test("on a loopback address no code is asked, and nobody else gets in", async t => {
  const site = await Site.begin(t);
  assert.equal(site.all("pairing").length, 0);
  assert.equal((await ask(site.url, "/")).status, 200);
  for (const url of addresses(site).slice(1))
    await assert.rejects(ask(url, "/"), /ECONNREFUSED/);
});
