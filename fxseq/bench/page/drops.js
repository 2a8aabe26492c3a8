/** Files that are dropped anywhere on the page, or chosen: each goes to what it is for, or is refused before it is read. */

import { Refused, postFile } from './api.js';
import { spoken } from './make.js';
import { say } from './say.js';

/** By suffix; what it says of itself comes first, and the server looks inside. */
const KINDS = {
  recording: ['wav', 'wave', 'aif', 'aiff', 'flac', 'ogg', 'mp3'],
  photo: ['png', 'jpg', 'jpeg', 'webp'],
  list: ['csv'],
};
const ALLOWED = 'a recording (WAV, AIFF, FLAC, OGG, MP3), a photo (PNG, JPEG, WebP) or a list of places (CSV)';
const SHORTER = { recording: 'Cut it first.', photo: 'Save it smaller.', list: '' };
const MOST_LIST_BYTES = 2 ** 20;

/** A file's name as the name of a clip or a photo: small letters, digits and _. */
export function plainName(file) {
  const plain = file.toLowerCase().replace(/\.[^.]*$/, '').normalize('NFKD').replace(/[^a-z0-9]+/g, '_').replace(/^[^a-z]+|_+$/g, '');
  return plain.slice(0, 40) || 'added';
}

function kindOf(file) {
  const suffix = file.name.toLowerCase().split('.').at(-1);
  const kind = Object.keys(KINDS).find((name) => KINDS[name].includes(suffix));
  return kind || (file.type.startsWith('audio/') ? 'recording' : undefined);
}

export class Drops {
  /** most_bytes(): largest sizes by kind. took(prop, clip): after a file was taken in. laid(): a photo. placed(text): a list of places; gives the prop. */
  constructor({ most_bytes, took, laid, placed }) {
    this.most_bytes = most_bytes;
    this.took = took;
    this.laid = laid;
    this.placed = placed;
    const hasFiles = (event) => event.dataTransfer?.types.includes('Files');
    const mark = (isOver) => document.body.classList.toggle('dropping', isOver);
    addEventListener('dragover', (event) => {
      if (!hasFiles(event)) return;
      event.preventDefault();
      mark(true);
    });
    addEventListener('dragleave', (event) => { if (!event.relatedTarget) mark(false); });
    addEventListener('drop', (event) => {
      if (!hasFiles(event)) return;
      event.preventDefault();
      mark(false);
      if (event.dataTransfer) this.dropped(event.dataTransfer);
    });
  }

  /** A folder looks like a file until it is read. */
  dropped({ items, files }) {
    const folder = [...items].map((item) => item.webkitGetAsEntry?.()).find((entry) => entry?.isDirectory);
    if (folder) say(`${folder.name}: it is a folder. Drop the files in it.`, true);
    else this.take([...files]);
  }

  /** Takes them in one after the other, and says once what came of each. */
  async take(files) {
    const lines = [];
    let hasFailed = false;
    say(files.length === 1 ? `${files[0].name} is being added.` : `${files.length} files are being added.`);
    for (const file of files) {
      try {
        lines.push(await this.one(file));
      } catch (error) {
        hasFailed = true;
        lines.push(error.message);
      }
    }
    say(lines.join(' '), hasFailed);
  }

  async one(file) {
    const kind = kindOf(file);
    const refuse = (found, allowed, remedy = '') => { throw new Refused([{ where: file.name, found, allowed, remedy }]); };
    if (!kind) return refuse('the bench cannot use this kind of file', ALLOWED);
    const most = { ...this.most_bytes(), list: MOST_LIST_BYTES }[kind];
    if (file.size > most) refuse(`it has ${mebibytes(file.size)} MiB`, `up to ${mebibytes(most)} MiB`, SHORTER[kind]);
    return this[kind](file);
  }

  async recording(file) {
    const prop = await postFile('/api/clips', plainName(file.name), file);
    const { name } = prop.clips.at(-1);
    await this.took(prop, name);
    return `${spoken(name)} is now a clip. Choose beside its curve where to play it.`;
  }

  /** Another recording for a clip, of which all that is said stays. */
  async replace(clip, file) {
    const prop = await postFile('/api/clips', plainName(file.name), file, { 'X-In-Place-Of': clip });
    await this.took(prop, clip);
    say(`${spoken(clip)} is made from ${file.name} now. Undo brings the one before back.`);
  }

  async photo(file) {
    const prop = await postFile('/api/picture', plainName(file.name), file);
    await this.took(prop);
    this.laid();
    return `The photo is now under the lamps. It is assumed to be ${prop.picture.width_mm} mm wide. Say how wide it really is, then place the lamps on it.`;
  }

  async list(file) {
    await this.placed(await file.text());
    return 'The lamps are placed.';
  }
}

function mebibytes(bytes) {
  return Math.ceil(bytes / 2 ** 20);
}
