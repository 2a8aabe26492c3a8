/** Building the prop: all its parts by kind, and a form for the one that is looked at. */

import { get, post } from './api.js';
import { ask } from './ask.js';
import { Form, act, idOf, nameOf, small } from './form.js';
import { byId, make, named, spoken } from './make.js';
import { calm, say, trying } from './say.js';
import { Running, Sentences } from './sentences.js';
import { newGesture } from './turn.js';

const NONE = '';
/** Narrower pages have one column (style.css). */
const NARROW_PX = 700;
/** Modes that go on while something is held, or until power-down. */
const STAYING = ['while_held', 'on_off', 'always'];

export class Build {
  /**
   * places: {modes, say, list, form}. settled(): once what was turned has been answered. took(prop), take(files): as everywhere.
   * looks(kind, name): another thing is looked at. replace(clip, file): has a clip made from another recording.
   */
  constructor(places, { settled, took, take, looks, replace }) {
    this.places = places;
    this.settled = settled;
    this.took = took;
    this.looks = looks;
    this.replace = replace;
    this.takeFiles = take;
    /** @type {Promise<unknown>} */
    this.queue = Promise.resolve();
    this.chosen = this.form = this.sentences = null;
    this.folded = new Set();
    this.running = new Running();
    this.onTheWay = 0;
    this.file = make('input', { type: 'file', accept: 'audio/*', multiple: true, hidden: true, 'aria-label': 'Recordings' });
    this.file.addEventListener('change', async () => {
      await this.takeFiles([...this.file.files]);
      this.file.value = '';
    });
    for (const button of places.modes.querySelectorAll('button')) button.addEventListener('click', () => this.enter(button.value === 'build'));
  }

  get isOpen() {
    return document.body.classList.contains('building');
  }

  enter(isBuilding) {
    document.body.classList.toggle('building', isBuilding);
    for (const button of this.places.modes.querySelectorAll('button')) button.setAttribute('aria-pressed', String((button.value === 'build') === isBuilding));
    scrollTo(0, 0);
    if (isBuilding) trying(() => this.refresh());
    else this.looks('', NONE);
    dispatchEvent(new Event('resize'));
  }

  /** Goes to a thing, from another mode of the page. */
  async visit(kind, name) {
    this.enter(true);
    await trying(() => this.refresh());
    this.look(kind, name);
    this.places.form.querySelector('h2').scrollIntoView({ block: 'start' });
  }

  /** After a change of the prop. */
  async show({ revision }) {
    if (!this.isOpen || revision === this.parts?.revision) return;
    if (this.askedFor !== revision) this.asked = this.refresh().finally(() => { this.askedFor = undefined; });
    this.askedFor = revision;
    await this.asked;
  }

  /** Follows what the player tells. */
  heed({ started, trace }, kinds, names) {
    if (started !== undefined) this.running.powerUp();
    const now_ms = performance.now();
    this.running.heed((trace || []).map((event) => ({ ...event, kind: kinds[event.kind] })), names, now_ms);
    if (this.isOpen) this.sentences?.light(this.running.names(now_ms));
  }

  async refresh() {
    const [forms, parts] = await Promise.all([this.forms || get('/api/forms'), get('/api/parts')]);
    if (parts.revision < this.parts?.revision) return;
    if (!this.forms && innerWidth < NARROW_PX) this.foldAll(forms);
    this.forms = forms;
    this.form ||= new Form(forms, (...change) => this.change(...change));
    this.sentences ||= new Sentences(this.places.say, this.form, { look: (kind, name) => this.look(kind, name), fresh: () => this.begin(this.form.kind('triggers')) });
    this.parts = parts;
    this.form.take(parts);
    this.follow();
    this.draw();
  }

  /** Where the form comes below the list, that has to be short. */
  foldAll({ themes }) {
    for (const { kind } of themes.flatMap(({ kinds }) => kinds)) this.folded.add(kind);
  }

  /** The thing that was looked at may be gone, and a new one may have come. */
  follow() {
    const { values } = this.parts;
    this.welcome(values);
    if (this.chosen?.name && !(this.chosen.name in (values[this.chosen.kind] || {}))) this.chosen = null;
    if (!this.chosen) {
      const [name] = Object.keys(values.triggers || {});
      this.choose(name ? 'triggers' : 'title', name);
    }
  }

  /** Looks at what was to be made, once it is there; answers to earlier changes may come before it. */
  welcome(values) {
    if (!this.wanted) return;
    const { kind, before, isSingle } = this.wanted;
    const name = isSingle ? NONE : Object.keys(values[kind] || {}).find((one) => !before.includes(one));
    if (name === undefined || values[kind] === undefined) return;
    this.choose(kind, name);
    this.wanted = null;
  }

  choose(kind, name = NONE) {
    if (this.chosen?.kind !== kind || this.chosen.name !== name) this.form.reset();
    this.chosen = { kind, name };
  }

  /** Shows a thing, and goes to its form. */
  look(kind, name = NONE) {
    this.choose(kind, name);
    this.draw();
    const title = this.places.form.querySelector('h2');
    title.focus({ preventScroll: true });
    title.scrollIntoView({ block: 'nearest' });
  }

  /** Goes to the form of what has just been made, unless a hand is there already. */
  lead() {
    if (!this.places.form.contains(document.activeElement)) this.look(this.chosen.kind, this.chosen.name);
  }

  /** Draws all anew; what has the focus keeps it, with what was typed there since. */
  draw() {
    /** @type {any} */
    const focused = document.activeElement;
    const { id, value } = focused || {};
    const isTyping = focused?.dataset?.shown !== undefined && focused.dataset.shown !== value;
    this.form.isDrawing = true;
    try {
      this.sentences.show(this.parts);
      this.places.list.replaceChildren(...this.forms.themes.map((theme) => this.theme(theme)),
        act('Save a copy …', () => trying(() => this.saveCopy()), 'save-copy'), this.file);
      this.places.form.replaceChildren(...this.thing());
      this.looks(this.chosen.kind, this.chosen.name);
    } finally {
      this.form.isDrawing = false;
    }
    const again = id && byId(id);
    if (!again || again === document.activeElement) return;
    if (isTyping) again.value = value;
    again.focus({ preventScroll: true });
  }

  theme({ label, kinds }) {
    return make('section', { class: 'theme' }, make('h3', {}, label), ...kinds.map((kind) => (kind.is_named ? this.named(kind) : this.single(kind))));
  }

  named(kind) {
    const names = Object.keys(this.parts.values[kind.kind] || {});
    const isOpen = !this.folded.has(kind.kind);
    const fold = make('details', { open: isOpen }, make('summary', {}, `${kind.label} `, make('span', { class: 'small' }, String(names.length))),
      make('div', { class: 'things' }, ...names.map((name) => this.entry(kind, name, spoken(name))),
        act(`New ${kind.one}`, () => this.begin(kind), `new-${kind.kind}`)));
    fold.addEventListener('toggle', () => this.folded[fold.open ? 'delete' : 'add'](kind.kind));
    return fold;
  }

  single(kind) {
    const isThere = this.parts.values[kind.kind] !== undefined;
    if (isThere || !kind.table) return this.entry(kind, NONE, kind.label);
    return act(`Say more: ${small(kind.label)}`, () => this.add(kind, ''), `new-${kind.kind}`);
  }

  entry({ kind }, name, label) {
    const isChosen = this.chosen.kind === kind && this.chosen.name === name;
    const entry = act(label, () => this.look(kind, name), `thing-${kind}-${name}`);
    entry.className = 'thing';
    if (isChosen) entry.setAttribute('aria-current', 'true');
    return entry;
  }

  /** The prop under another name, beside this one, which goes on being edited. */
  async saveCopy() {
    const answer = await ask('Save a copy of this prop', ['It lies beside this one, with the same sounds. This one stays open.'],
      [{ name: 'name', label: 'Name', value: '' }], [{ act: 'copy', label: 'Save it' }]);
    if (!answer) return;
    await this.settled();
    await this.queue;
    const { file } = await post('/api/copy', { name: answer.name });
    say(`Saved a copy as ${file}.`);
  }

  /** The form of what is looked at. */
  thing() {
    const { kind, name } = this.chosen, about = this.form.kind(kind);
    const title = make('h2', { tabIndex: -1 }, name ? spoken(name) : about.label);
    const sub = make('p', { class: 'small' }, about.table ? this.forms.tables[about.table].means : about.means);
    if (!about.table) return [title, this.form.field(this.topField(kind), [kind])];
    const path = name ? [kind, name] : [kind];
    const head = name ? this.head(about, name) : this.plainHead(about, path);
    return [title, sub, head, ...this.form.fieldsOf(about.table, path)];
  }

  topField(kind) {
    return this.forms.tables.Sequence.fields.find(({ key }) => key === kind);
  }

  head(about, name) {
    const names = Object.keys(this.parts.values[about.kind]), place = names.indexOf(name), id = idOf([about.kind, name]);
    const box = make('input', { type: 'text', id: `${id}-name`, value: name.replaceAll('_', ' '), autocomplete: 'off' });
    this.form.onEntry(box, () => this.rename(about, name, nameOf(box.value)));
    const order = (more) => this.change([about.kind, name], [], { kind: about.kind, name, ...more });
    return make('div', { class: 'head' },
      make('div', { class: 'part-field' }, make('label', { htmlFor: box.id }, 'Name'), box, make('p', { class: 'fault', id: `${id}-fault`, role: 'alert' })),
      make('div', { class: 'row' },
        act('Copy', () => this.make(about.kind, { do: 'copy', kind: about.kind, name }), `${id}-copy`),
        ...(place > 0 ? [act('Earlier', () => order({ do: 'move', by: -1 }), `${id}-earlier`)] : []),
        ...(place < names.length - 1 ? [act('Later', () => order({ do: 'move', by: 1 }), `${id}-later`)] : []),
        act('Delete …', () => trying(() => this.remove(about, name)), `${id}-delete`)),
      ...(about.kind === 'clips' ? [this.otherFile(name, id)] : []));
  }

  /** Another recording for a clip. */
  otherFile(name, id) {
    const file = make('input', { type: 'file', accept: 'audio/*', id: `${id}-other` });
    file.addEventListener('change', () => trying(() => this.replace(name, file.files[0])));
    return make('div', { class: 'row' }, make('label', { htmlFor: file.id }, 'Put another recording in its place'), file);
  }

  plainHead(about, path) {
    const { is_required: isRequired } = this.topField(about.kind);
    const fault = make('p', { class: 'fault', id: `${idOf(path)}-fault`, role: 'alert' });
    if (isRequired || this.parts.values[about.kind] === undefined) return fault;
    const out = () => { this.chosen = null; this.change(path, [{ path, value: null }]); };
    return make('div', { class: 'row' }, act(`Take out: ${small(about.label)}`, out, `${idOf(path)}-out`), fault);
  }

  async rename({ kind }, name, fresh) {
    if (fresh === name) return this.draw();
    const before = this.chosen;
    this.chosen = { kind, name: fresh };
    const isDone = await this.change([kind, name], [], { do: 'rename', kind, name, new: fresh }, '', () => { this.chosen = before; });
    return isDone && this.lead();
  }

  /** Deletes a thing; what is used says where, and asks what to do. */
  async remove({ kind, one }, name) {
    await this.settled();
    const { uses, goes } = await post('/api/uses', { kind, name });
    const others = Object.keys(this.parts.values[kind]).filter((other) => other !== name);
    const answer = uses.length ? await this.askAbout({ kind, one }, name, uses, goes, others) : { act: 'out' };
    if (!answer) return;
    const instead = answer.act === 'instead' ? { instead: answer.instead } : {};
    await this.change([kind, name], [], { do: 'delete', kind, name, ...instead });
    say(`${spoken(name)} is deleted. Undo brings it back.`);
  }

  askAbout({ kind, one }, name, uses, goes, others) {
    const words = [named(`It is used in: ${uses.join('; ')}.`)];
    if (goes.length) words.push(`Without it, these triggers could not be, and go too: ${goes.map((each) => spoken(each)).join(', ')}.`);
    const canStand = others.length > 0 && kind !== 'selectors';
    const choices = others.map((other) => ({ value: other, label: spoken(other) }));
    return ask(`Delete the ${one} ${spoken(name)}?`, words, canStand ? [{ name: 'instead', label: 'Use in its place', choices, value: others[0] }] : [],
      [...(canStand ? [{ act: 'instead', label: 'Put the other one in its place' }] : []), { act: 'out', label: 'Take it out there, too' }]);
  }

  /** A new thing of a kind: asks for what it cannot be without. */
  async begin(kind) {
    if (kind.kind === 'clips') return this.file.click();
    const { name } = this.form.fresh(kind.kind);
    const fields = [{ name: 'name', label: 'Name', value: name.replaceAll('_', ' ') }, ...(kind.kind === 'triggers' ? this.triggerFields() : [])];
    const answer = await ask(`A new ${kind.one}`, [], fields, [{ act: 'add', label: 'Make it' }]);
    return answer && this.add(kind, nameOf(answer.name), kind.kind === 'triggers' ? this.triggerOf(answer) : {});
  }

  triggerFields() {
    const [mode] = this.forms.tables.Trigger.fields.find(({ key }) => key === 'mode').takes;
    const menu = (kind) => [...Object.keys(this.parts.values[kind] || {}).map((name) => ({ value: name, label: spoken(name) })),
      { value: NONE, label: `a new ${this.form.fresh(kind).one}` }];
    return [{ name: 'input', label: 'Pressed by', choices: menu('inputs') }, { name: 'mode', label: 'What a press does', choices: mode.choices, value: 'once' },
      { name: 'effect', label: 'Effect', choices: menu('effects') }];
  }

  triggerOf({ input, mode, effect }) {
    const played = effect || this.form.fresh('effects').name;
    const pressed = mode === 'always' ? {} : { input: input || this.form.fresh('inputs').name };
    if (STAYING.includes(mode)) return { mode, ...pressed, during: played };
    return { mode, ...pressed, ...(mode === 'repeat' ? { rate_per_s: 2 } : {}), effects: [played] };
  }

  add(kind, name, given = {}) {
    return this.make(kind.kind, { do: 'add', kind: kind.kind, name, given: { ...this.form.least(kind.table), ...given } }, !kind.is_named);
  }

  /** An order that makes a thing, which is looked at then. */
  async make(kind, order, isSingle = false) {
    const wanted = { kind, before: Object.keys(this.parts.values[kind] || {}), isSingle };
    this.wanted = wanted;
    const isDone = await this.change([kind], [], order, '', () => { this.wanted = null; });
    if (isDone) this.lead();
  }

  /** One change after the other; true once it is taken, and shown. What is refused is said at its place, and nothing changes. */
  change(path, changes, order = null, words = '', failed = () => {}) {
    if (words) return Promise.resolve(this.refuse(path, words));
    const body = order || { do: 'set', changes, gesture: newGesture() };
    this.busy(1);
    this.queue = this.queue.then(() => this.send(path, body, failed)).finally(() => this.busy(-1));
    return this.queue;
  }

  /** Counts changes on their way. */
  busy(by) {
    this.onTheWay += by;
    this.places.form.setAttribute('aria-busy', String(this.onTheWay > 0));
  }

  async send(path, body, failed) {
    await this.settled();
    try {
      const prop = await post('/api/parts', body);
      calm();
      await this.took(prop);
      await this.show(prop);
      return true;
    } catch (error) {
      failed();
      this.draw();
      return this.refuse(path, error.message);
    }
  }

  refuse(path, words) {
    const inSentence = this.places.say.contains(document.activeElement) ? [document.getElementById(`say-fault-${path[1]}`)] : [];
    const inForm = path.map((_, at) => document.getElementById(`${idOf(path.slice(0, path.length - at))}-fault`));
    for (const place of [...inSentence, ...inForm]) {
      if (!place) continue;
      place.textContent = `${words} Nothing was changed.`;
      document.getElementById(idOf(path))?.setAttribute('aria-invalid', 'true');
      return false;
    }
    say(words, true);
    return false;
  }
}

