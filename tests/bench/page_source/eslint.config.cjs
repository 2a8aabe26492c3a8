// The recommended rules. Names that there are not are found by the type checker.
const { configs } = require('@eslint/js');

module.exports = [
  { linterOptions: { reportUnusedDisableDirectives: 'error' } },
  { ...configs.recommended, rules: { ...configs.recommended.rules, 'no-undef': 'off' } },
];
