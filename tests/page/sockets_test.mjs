// What comes at the page's port that is no phone, or a bad one, while the instruments send at their full rate: each is
// refused or let go, the next phone is served as before, and the serial side misses no byte.
import assert from "node:assert/strict";
import {createHash, randomBytes} from "node:crypto";
import {connect} from "node:net";
import {test} from "node:test";

import {Phone} from "./support/phone.mjs";
import {Site} from "./support/site.mjs";
import {until, within} from "./support/waiting.mjs";

/// A connection whose bytes are kept.
async function open(t, site) {
  const socket = connect({port: site.port, host: "127.0.0.1"});
  t.after(() => socket.destroy());
  socket.bytes = Buffer.alloc(0);
  socket.gone = new Promise(resolve => socket.on("close", resolve));
  socket.on("data", chunk => (socket.bytes = Buffer.concat([socket.bytes, chunk])));
  socket.on("error", () => undefined);  // a reset is one way to be let go
  await within(new Promise((resolve, reject) => {
    socket.once("connect", resolve);
    socket.once("error", reject);
  }), "a connection");
  return socket;
}
const letGo = (socket, what) => within(socket.gone, `the end of ${what}`);
const status = socket => /^HTTP\/1\.1 (\d+)/.exec(socket.bytes.toString("latin1"))?.[1] ?? "none";

function upgrade(site, {host = `127.0.0.1:${site.port}`, origin = `http://127.0.0.1:${site.port}`, key = randomBytes(16).toString("base64"),
                        version = "13", more = ""} = {}) {
  return `GET /live HTTP/1.1\r\nHost: ${host}\r\nConnection: Upgrade\r\nUpgrade: websocket\r\n` +
         (origin ? `Origin: ${origin}\r\n` : "") + `Sec-WebSocket-Key: ${key}\r\nSec-WebSocket-Version: ${version}\r\n${more}\r\n`;
}

/// A frame of a client, masked as RFC 6455 (5.3) wants it, or not.
function frame(payload, {opcode = 1, masked = true, final = true, length = payload.length} = {}) {
  const head = [(final ? 0x80 : 0) | opcode];
  const mask = masked ? 0x80 : 0;
  if (length < 126) head.push(mask | length);
  else if (length < 65536) head.push(mask | 126, length >> 8, length & 255);
  else head.push(mask | 127, 0, 0, 0, 0, ...[24, 16, 8, 0].map(bits => (length / 2 ** bits) & 255));
  const key = masked ? randomBytes(4) : Buffer.alloc(0);
  return Buffer.concat([Buffer.from(head), key, masked ? payload.map((byte, i) => byte ^ key[i % 4]) : payload]);
}

const kInstruments = ["walking inclinometer", "middle inclinometer", "laser distance meter"];
const kRate = 1000;  // as often as the lines' speeds carry
// So slow that what a line holds for a reader who is late lasts two seconds: a busy machine is no fault of the daemon's.
const slower = text => text.replaceAll("baud = 38400", "baud = 9600");
const kMeanwhile = 40;  // messages of each

/// Bytes of each instrument's line, as the daemon's status accounts for them.
async function received(site) {
  const bytes = new Map();
  for (const line of await site.status()) {
    const found = /^(\S+): (\d+) bytes in, (\d+) used, (\d+) pending(.*)/.exec(line);
    if (found) bytes.set(kInstruments.find(name => found[1].endsWith(name.replaceAll(" ", "-"))), {in: Number(found[2]), used: Number(found[3]), rest: found[5]});
  }
  return bytes;
}

/// Does it, again and again until each instrument has sent enough meanwhile; then sees that the next phone is served, and that
/// every byte that was sent since the beginning has come in.
async function meanwhile(t, doIt) {
  const site = await Site.begin(t, {rate: kRate, change: slower, hush: true});
  await site.control("speak");
  const watching = await Phone.connect(t, site.url);
  await watching.until(({live}) => live.instruments.every(each => each.speaks && each.state === "well"), "instruments that speak");
  const before = new Map();
  for (const name of kInstruments) before.set(name, await site.sent(name));
  const sentEnough = async name => (await site.sent(name)).messages >= before.get(name).messages + kMeanwhile;
  do await doIt(site);
  while (!(await Promise.all(kInstruments.map(sentEnough))).every(Boolean));

  const next = await Phone.connect(t, site.url);
  const answer = await next.ask("station 1");
  assert.ok(answer.done, answer.words);
  await watching.until(({work}) => work.station === 1, "what the next phone asked");
  const page = await fetch(site.url);
  assert.equal(page.status, 200);
  assert.match(await page.text(), /<!doctype html>/i);

  await site.control("hush");
  for (const name of kInstruments) {
    const sent = await site.sent(name);
    assert.equal(sent.lost, 0, name);
    await until(async () => (await received(site)).get(name).in === sent.bytes, `all ${sent.bytes} bytes of the ${name}`);
  }
  assert.equal((await received(site)).get("walking inclinometer").rest, "", "sentences torn on the way");
  assert.equal(site.daemon.ended, null);
}

test("a header that comes a byte at a time, and one that never ends", async t => {
  await meanwhile(t, async site => {
    const slow = await open(t, site), stuck = await open(t, site);
    stuck.write("GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ");
    const dripping = setInterval(() => slow.write("G"), 50);
    t.after(() => clearInterval(dripping));
    await letGo(slow, "a slow header");
    await letGo(stuck, "a header without end");
  });
});

test("headers and bodies beyond every size", async t => {
  await meanwhile(t, async site => {
    const host = `Host: 127.0.0.1:${site.port}\r\n`;
    for (const [what, bytes, wanted] of [
      ["a long header", `GET / HTTP/1.1\r\n${host}X-Long: ${"x".repeat(100_000)}\r\n\r\n`, "431"],
      ["many headers", `GET / HTTP/1.1\r\n${host}${"A: b\r\n".repeat(10_000)}\r\n`, "431"],
      ["a long path", `GET /${"x".repeat(50_000)} HTTP/1.1\r\n${host}\r\n`, /414|431|400/],
      ["a long body", `POST /pair HTTP/1.1\r\n${host}Origin: http://127.0.0.1:${site.port}\r\nContent-Length: 10000000\r\n\r\n${"x".repeat(200_000)}`, "413"],
      ["a body in chunks without end", `POST /pair HTTP/1.1\r\n${host}Origin: http://127.0.0.1:${site.port}\r\nTransfer-Encoding: chunked\r\n\r\n${"800\r\n" + "x".repeat(2048) + "\r\n"}` + ("800\r\n" + "x".repeat(2048) + "\r\n").repeat(100), "413"],
      ["a length that is none", `POST /pair HTTP/1.1\r\n${host}Content-Length: -5\r\n\r\n`, "400"],
      ["two lengths", `POST /pair HTTP/1.1\r\n${host}Content-Length: 5\r\nContent-Length: 6\r\n\r\nhello!`, "400"],
    ]) {
      const socket = await open(t, site);
      socket.write(bytes);
      await letGo(socket, what);
      if (typeof wanted === "string") assert.equal(status(socket), wanted, what);
      else assert.match(status(socket), wanted, what);
    }
  });
});

test("upgrades that are broken, and frames that no client may send", async t => {
  await meanwhile(t, async site => {
    for (const [what, bytes] of [
      ["no key", upgrade(site).replace(/Sec-WebSocket-Key.*\r\n/, "")],
      ["a key that is none", upgrade(site, {key: "short"})],
      ["another version", upgrade(site, {version: "8"})],
      ["another path", upgrade(site).replace("/live", "/icon")],
      ["by POST", upgrade(site).replace("GET", "POST")],
      ["frames before the answer", upgrade(site) + "\x81\x05hello"],
    ]) {
      const socket = await open(t, site);
      socket.write(bytes, "latin1");
      await until(() => socket.bytes.length > 0 || socket.destroyed, what);
      assert.match(status(socket), /^4\d\d$/, what);
      socket.destroy();
    }
    const ask = command => Buffer.from(JSON.stringify({id: 1, command, seen: 1}));
    for (const [what, bytes] of [
      ["an unmasked frame", frame(ask("take"), {masked: false})],
      ["a frame that says it has 16 MB", frame(Buffer.alloc(100), {length: 16_000_000})],
      ["a message in pieces beyond every size", Buffer.concat([frame(Buffer.alloc(3000, 97), {final: false}), frame(Buffer.alloc(3000, 97), {opcode: 0})])],
      ["a reserved kind of frame", frame(ask("take"), {opcode: 5})],
      ["text that is no UTF-8", frame(Buffer.from([0xff, 0xfe, 0x80]))],
      ["a control frame that is too long", frame(Buffer.alloc(200), {opcode: 9})],
    ]) {
      const socket = await open(t, site), key = randomBytes(16).toString("base64");
      socket.write(upgrade(site, {key}));
      await until(() => socket.bytes.includes("\r\n\r\n"), "an upgrade");
      assert.equal(status(socket), "101");
      const accept = createHash("sha1").update(`${key}258EAFA5-E914-47DA-95CA-C5AB0DC85B11`).digest("base64");  // RFC 6455, 4.2.2
      assert.ok(socket.bytes.toString("latin1").includes(`Sec-WebSocket-Accept: ${accept}`));
      socket.write(bytes);
      await letGo(socket, what);
    }
    // Frames that are whole but say nothing sensible are answered with a refusal, or let go; nothing is done.
    for (const text of ["", "{", "[]", "null", '{"id":1}', '{"id":"x","command":1,"seen":[]}', `{"id":1,"command":"${"x".repeat(3000)}","seen":1}`,
                        '{"id":1,"command":"take\\nundo","seen":1}', '{"id":9007199254740993,"command":"take","seen":-1}', "[".repeat(4000)]) {
      const socket = await open(t, site);
      socket.write(upgrade(site));
      await until(() => socket.bytes.includes("\r\n\r\n"), "an upgrade");
      socket.write(frame(Buffer.from(text)));
      await until(() => socket.destroyed || /"answer":\{[^}]*"done":false/.test(socket.bytes.toString("utf8")), `a refusal of ${text.slice(0, 50)}`);
      socket.destroy();
    }
    assert.equal(site.all("taken").length, 0);
  });
});

test("another site's origin, and names that this machine has not", async t => {
  await meanwhile(t, async site => {
    const own = `127.0.0.1:${site.port}`;
    for (const [what, bytes] of [
      ["an upgrade from another site", upgrade(site, {origin: "http://example.com"})],
      ["an upgrade from the same machine's other port", upgrade(site, {origin: "http://127.0.0.1:1"})],
      ["an upgrade from a file", upgrade(site, {origin: "null"})],
      ["an upgrade without an origin", upgrade(site, {origin: ""})],
      ["a name that was made to point here", upgrade(site, {host: `example.com:${site.port}`, origin: `http://example.com:${site.port}`})],
      ["a page by such a name", `GET / HTTP/1.1\r\nHost: example.com:${site.port}\r\n\r\n`],
      ["no host", "GET / HTTP/1.1\r\n\r\n"],
      ["two hosts", `GET / HTTP/1.1\r\nHost: ${own}\r\nHost: ${own}\r\n\r\n`],
      ["a post from another site", `POST /pair HTTP/1.1\r\nHost: ${own}\r\nOrigin: http://example.com\r\nContent-Length: 0\r\n\r\n`],
      ["a survey for another site", `GET /record/1.txt HTTP/1.1\r\nHost: ${own}\r\nSec-Fetch-Site: cross-site\r\n\r\n`],
    ]) {
      const socket = await open(t, site);
      socket.write(bytes);
      await until(() => socket.bytes.length > 0 || socket.destroyed, what);
      assert.match(status(socket), /^4\d\d$/, what);
      socket.destroy();
    }
  });
});

test("two hundred connections that say nothing", async t => {
  await meanwhile(t, async site => {
    const idle = [];
    for (let i = 0; i < 200; ++i) idle.push(await open(t, site));
    const phone = await Phone.connect(t, site.url);  // while they are all there
    assert.ok((await phone.ask("station 2")).done);
    assert.ok(idle.filter(each => !each.destroyed).length > 100, "they are there");
    await Promise.all(idle.map(each => letGo(each, "an idle connection")));
  });
});

test("more connections than there is room for: the phones stay", async t => {
  await meanwhile(t, async site => {
    const phones = [];
    for (let i = 0; i < 20; ++i) phones.push(await Phone.connect(t, site.url));
    const others = [];
    for (let i = 0; i < 400; ++i) others.push(await open(t, site));
    const frames = phones.map(each => each.frames);
    for (const [i, phone] of phones.entries()) {
      await until(() => phone.frames > frames[i], "frames as before");
      assert.equal(phone.socket.readyState, 1);
    }
    for (const {socket} of phones) socket.terminate();
    for (const socket of others) socket.destroy();
  });
});

test("random bytes, whole and cut", async t => {
  await meanwhile(t, async site => {
    let seed = 20260914;
    const random = most => (seed = (seed * 1103515245 + 12345) % 2147483648) % most;
    for (let i = 0; i < 300; ++i) {
      const socket = await open(t, site);
      const bytes = Buffer.from({length: 1 + random(3000)}, () => random(256));
      if (i % 3 === 1) bytes.write("GET / HTTP/1.1\r\n");
      if (i % 3 === 2) socket.write(upgrade(site));
      socket.write(bytes);
      if (random(2)) socket.destroy();
      else socket.end();
    }
  });
});

test("a phone that reads nothing holds up nobody", async t => {
  await meanwhile(t, async site => {
    const asleep = await open(t, site);
    asleep.write(upgrade(site));
    await until(() => asleep.bytes.includes("\r\n\r\n"), "an upgrade");
    asleep.pause();
    const awake = await Phone.connect(t, site.url);
    const seen = new Set();
    await until(() => seen.add(JSON.stringify(awake.topics.live)).size > 100, "a hundred states on another phone");
  });
});
