/** The first page: begin a prop, or open one. */

import { get, post } from './api.js';
import { act } from './form.js';
import { byId, make } from './make.js';
import { sayIn, trying } from './say.js';

const OPEN = 'I do not know yet';

/** Once a prop is open, the same address is its bench. */
function go(path, order) {
  return trying(async () => {
    await post(path, order);
    location.reload();
  });
}

function menu({ name, question, choices }) {
  const select = make('select', { id: name }, ...['', ...choices].map((value) => make('option', { value }, value || OPEN)));
  return make('div', { class: 'part-field' }, make('label', { htmlFor: name }, question), select);
}

function showQuestions(questions) {
  const title = make('input', { type: 'text', id: 'title', maxLength: 80, autocomplete: 'off' });
  const begin = () => {
    const answers = Object.fromEntries(questions.map(({ name }) => [name, byId(name).value]));
    return go('/api/begin/new', { title: title.value, answers });
  };
  title.addEventListener('keydown', ({ key }) => key === 'Enter' && begin());
  const button = act('Begin it', begin);
  button.className = 'strong';
  byId('questions').replaceChildren(make('div', { class: 'part-field' }, make('label', { htmlFor: 'title' }, 'What it is called'), title), ...questions.map(menu), button);
  title.focus();
}

function showFiles(place, paths, key) {
  const none = make('p', { class: 'small' }, 'None yet.');
  place.replaceChildren(...(paths.length ? paths.map((path, turn) => act(path, () => go('/api/begin/open', { [key]: turn }))) : [none]));
}

sayIn(byId('status'));
trying(async () => {
  const { folder, recent, files, questions } = await get('/api/begin');
  byId('folder').textContent = folder;
  showQuestions(questions);
  showFiles(byId('recent'), recent, 'recent');
  showFiles(byId('files'), files, 'file');
});
