/** Talks to the server of this page, and to nothing else; a page that was saved as one file has in it what it would ask for. */

import { capital, named } from './make.js';

const HELD = JSON.parse(document.getElementById('bench-export')?.textContent || 'null');
const KEPT = 'bench-token';

/** The token comes once, in the part of the address that is never sent, and is then kept for this tab alone. */
function token() {
  const given = new URLSearchParams(location.hash.slice(1)).get('t');
  if (given) {
    sessionStorage.setItem(KEPT, given);
    history.replaceState(null, '', location.pathname);
  }
  return sessionStorage.getItem(KEPT) || '';
}

/** Whether this page plays alone, without a server: nothing can be changed then. */
export const isAlone = HELD !== null;
export const WORKLET = HELD?.worklet || '/page/worklet.js';

const TOKEN = isAlone ? '' : token();
const NO_TOKEN = 401;
/** A page that the bench does not know is told so once; there is nothing that it could wait for. */
let isUnknown = false;

/** What the server refused, in its own words. faults: [{where, found, allowed, remedy}]. */
export class Refused extends Error {
  constructor(faults) {
    super(faults.map(inWords).join(' '));
    this.faults = faults;
  }
}

function inWords({ where, found, allowed, remedy }) {
  return named([where ? `${where}: ${found}.` : `${capital(found)}.`, allowed && `Allowed: ${allowed}.`, remedy].filter(Boolean).join(' '));
}

async function faultsOf(response) {
  try {
    return (await response.json()).faults || [];
  } catch {
    return [];
  }
}

const inJson = (response) => response.json();

/** read: takes what it is to give from the answer. One that breaks off is no answer. */
async function ask(path, read, options = {}) {
  let response;
  try {
    response = await fetch(path, { ...options, cache: 'no-store', headers: { Authorization: `Bearer ${TOKEN}`, ...options.headers } });
    if (response.ok) return await read(response);
  } catch {
    const remedy = 'Start it again in the terminal and open the address that it prints.';
    throw new Refused([{ where: 'The bench', found: 'it does not answer', remedy }]);
  }
  if (response.status === NO_TOKEN) throw unknown();
  const faults = await faultsOf(response);
  throw new Refused(faults.length ? faults : [{ where: path, found: `was refused with status ${response.status}` }]);
}

/** To a page that was opened without the address of this run. */
function unknown() {
  isUnknown = true;
  const remedy = 'Open the address that it has printed in the terminal.';
  return new Refused([{ where: 'The bench', found: 'it does not know this page, which belongs to another run', remedy }]);
}

function fromHere(path) {
  const clip = path.match(/^\/api\/clips\/(.*)\.wav$/);
  const keys = { '/api/table': 'table', '/page/player.wasm': 'wasm', '/api/picture': 'picture' };
  const held = clip ? HELD.clips[decodeURIComponent(clip[1])] : HELD[keys[path]];
  if (!held) throw new Refused([{ where: path, found: 'is not in this page' }]);
  return bytesOf(held.replace(/^data:.*?,/, ''));
}

/** Of a text in base64. */
export function bytesOf(text) {
  const letters = atob(text), bytes = new Uint8Array(letters.length);
  for (let at = 0; at < letters.length; at++) bytes[at] = letters.charCodeAt(at);
  return bytes.buffer;
}

/** GET, as JSON. */
export async function get(path) {
  if (isAlone) return HELD[path.replace('/api/', '')];
  return ask(path, inJson);
}

/** GET, as text. */
export async function getText(path) {
  return ask(path, (response) => response.text());
}

/** GET, as bytes, with the revision where the server names one. */
export async function getBytes(path) {
  if (isAlone) return { bytes: fromHere(path), revision: HELD.prop.revision };
  return ask(path, async (response) => ({ bytes: await response.arrayBuffer(), revision: Number(response.headers.get('X-Revision')) }));
}

/** The table of a prop, as bytes with their revision: the last one with what a change has made of it, where the answer to that says so, else asked for. */
export async function tableOf({ table, revision }, last) {
  return table && table.of === last?.revision ? { bytes: changed(last.bytes, table), revision } : getBytes('/api/table');
}

/** change: of a table, as view.py says it. */
function changed(bytes, { first, last, between, checksum }) {
  const end = bytesOf(checksum), clips = bytes.byteLength - end.byteLength - last;
  const parts = [bytes.slice(0, first), bytesOf(between), bytes.slice(clips, clips + last), end];
  const table = new Uint8Array(parts.reduce((sum, part) => sum + part.byteLength, 0));
  let at = 0;
  for (const part of parts) {
    table.set(new Uint8Array(part), at);
    at += part.byteLength;
  }
  return table.buffer;
}

/** A file to keep, with the name that the server gives it: GET, or POST where there is a body. */
export async function getFile(path, body) {
  const nameOf = (response) => response.headers.get('Content-Disposition').match(/filename="(.*)"/)[1];
  return ask(path, async (response) => ({ blob: await response.blob(), name: nameOf(response) }), body && ofJson(body));
}

function ofJson(body) {
  return { method: 'POST', body: JSON.stringify(body), headers: { 'Content-Type': 'application/json' } };
}

/** POST of JSON; the answer as JSON. */
export async function post(path, body = {}) {
  return ask(path, inJson, ofJson(body));
}

/** POST of a file, under a name. more: headers. */
export async function postFile(path, name, bytes, more = {}) {
  return ask(path, inJson, { method: 'POST', body: bytes, headers: { 'Content-Type': 'application/octet-stream', 'X-Name': name, ...more } });
}

/** Calls back with each message of the server, for ever; a line that breaks is tried again, more and more seldom. */
export function onChanges(heed, wait_ms = 500) {
  if (isAlone || isUnknown) return;
  const socket = new WebSocket(`${location.origin.replace('http', 'ws')}/api/changes`, ['bench.v1', `bearer.${TOKEN}`]);
  let next_ms = Math.min(wait_ms * 2, 10000);
  socket.onopen = () => {
    next_ms = 500;
    heed({ connected: true });
  };
  socket.onmessage = ({ data }) => heed(JSON.parse(data));
  socket.onclose = () => {
    heed({ connected: false });
    setTimeout(() => onChanges(heed, next_ms), wait_ms);
  };
}
