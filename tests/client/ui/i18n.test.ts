/** Every word on screen comes by message id, every id has its text, in each English. */
import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import gb from '../../../client/src/i18n/en-GB.json';
import rest from '../../../client/src/i18n/en-GB.rest.json';
import us from '../../../client/src/i18n/en-US.json';
import au from '../../../client/src/i18n/en-AU.json';
import { ENDS, KINDS, STAGES } from '../../../client/src/catalogue';
import { fieldId, has, kindId, language, speak, t } from '../../../client/src/i18n';
import '../../../client/src/i18n/rest';
import { fill } from '../../../client/src/i18n/message';
import { ANSWERS } from '../../../client/src/screens/answers';

const BASE: Record<string, string> = { ...gb, ...rest };
const SRC = new URL('../../../client/src/', import.meta.url);

function sources(): [string, string][] {
  return ['ui', 'screens', 'scan'].flatMap((folder) => readdirSync(new URL(folder, SRC))
    .filter((name) => /\.tsx?$/.test(name))
    .map((name): [string, string] => [`${folder}/${name}`, readFileSync(new URL(`${folder}/${name}`, SRC), 'utf8')]));
}

/** Ids written out in full: `t('a.b'`, and both arms of `t(x ? 'a.b' : 'c.d'`. */
function idsIn(source: string): string[] {
  const calls = source.match(/\bt\((?:[^()'`]|\([^()]*\))*?(?:'[a-zA-Z0-9_.-]+'|'[a-zA-Z0-9_.-]+' : '[a-zA-Z0-9_.-]+')/g) ?? [];
  const inArms = source.match(/\? '[a-z]+\.[a-zA-Z0-9_.-]+' : '[a-z]+\.[a-zA-Z0-9_.-]+'/g) ?? [];
  return [...calls, ...inArms].flatMap((call) => call.match(/'([a-z]+(?:\.[a-zA-Z0-9_-]+)+)'/g) ?? []).map((id) => id.slice(1, -1));
}

describe('message ids', () => {
  it.each(sources())('%s names only ids that exist', (_name, source) => {
    expect(idsIn(source).filter((id) => !(id in BASE))).toEqual([]);
  });

  it('finds the ids it is meant to find', () => {
    expect(idsIn("t('nav.back'); t(a ? 'x.y' : 'p.q', { n: f(1) })")).toEqual(expect.arrayContaining(['nav.back', 'x.y', 'p.q']));
  });

  it.each([...KINDS.values()])('$name has words for itself, its fields and choices', (kind) => {
    const wanted = [kindId(kind.name), ...kind.fields.flatMap((f) => [fieldId(kind.name, f.name), ...(f.choices ?? []).map((c) => `choice.${f.name}.${c}`)])];
    expect(wanted.filter((id) => !(id in BASE))).toEqual([]);
  });

  it('has a button for every act that a screen may offer', () => {
    const told = ['record.voided', 'record.amended', 'record.admitted', 'question.answered', 'device.paired', 'device.revoked'];
    expect([...KINDS.keys()].filter((k) => !told.includes(k)).map((k) => `act.${k.replace('.', '_')}`).filter((id) => !(id in BASE))).toEqual([]);
  });

  it('has stages, ends, questions and their answers', () => {
    const wanted = [...STAGES.map((s) => `stage.${s}`), ...ENDS.flatMap((e) => [`end.${e}`, `stage.${e}`]),
      ...Object.entries(ANSWERS).flatMap(([rule, answers]) => [`question.${rule}`, `question.${rule}.why`, ...answers.map((a) => `answer.${rule}.${a.word}`)])];
    expect(wanted.filter((id) => !(id in BASE))).toEqual([]);
  });

  it('says what each contamination looks like', () => {
    const signs = KINDS.get('bag.contaminated')?.fields.find((f) => f.name === 'sign')?.choices ?? [];
    expect(signs.length).toBeGreaterThan(10);
    expect(signs.filter((s) => !(`choice.sign.${s}.looks` in BASE))).toEqual([]);
  });

  it('is told what to do after what is wrong', () => {
    const wrong = Object.keys(BASE).filter((id) => /^(weight\.wrong|held|error)\.[a-z_]+$/.test(id) && !/^held\.(admit|void|admitted|voided|ask_boss)$/.test(id));
    expect(wrong.length).toBeGreaterThan(15);
    expect(wrong.filter((id) => !(`${id}.todo` in BASE))).toEqual([]);
  });
});

describe('the other Englishes', () => {
  const names = (text: string): string[] => [...text.matchAll(/\{(\w+)/g)].map((m) => m[1] ?? '').sort();

  it.each([['en-US', us], ['en-AU', au]] as [string, Record<string, string>][])('%s overrides only what exists and differs', (_name, over) => {
    for (const [id, text] of Object.entries(over)) {
      expect(BASE, id).toHaveProperty([id]);
      expect(text, id).not.toBe(BASE[id]);
      expect(names(text), id).toEqual(names(BASE[id] ?? ''));
    }
  });

  it('spells American where American is chosen', async () => {
    await speak('en-US');
    expect(language.value).toBe('en-US');
    expect(t('choice.sign.green_mould')).toBe('Green mold');
    expect(t('stage.colonised')).toBe('Colonized');
    const british = Object.keys(BASE).filter((id) => /mould|coloni[sz]ed|sterilis|labell|trolley/i.test(t(id)) && /mould|colonised|sterilis|labelled|trolley/i.test(t(id)));
    language.value = 'en-GB';
    expect(british).toEqual([]);
  });
});

describe('a message', () => {
  const rules = new Intl.PluralRules('en-GB');
  const put = (text: string, params: Record<string, string | number>): string => fill(text, params, rules, String);

  it.each([
    ['{n, plural, one {# bag} other {# bags}}', { n: 1 }, '1 bag'],
    ['{n, plural, one {# bag} other {# bags}}', { n: 0 }, '0 bags'],
    ['{n, plural, =0 {none} one {# bag} other {# bags}}', { n: 0 }, 'none'],
    ['{a} at {n, plural, one {# place of {a}} other {# places}}', { a: 'x', n: 1 }, 'x at 1 place of x'],
    ['{who, select, me {mine} other {theirs}}', { who: 'you' }, 'theirs'],
    ['{a} and {b}', { a: '{b}' , b: 2 }, '{b} and 2'],
  ])('%s', (text, params, said) => expect(put(text, params as Record<string, string | number>)).toBe(said));

  it('shows a missing parameter by its name', () => expect(put('{gone}!', {})).toBe('{gone}!'));
  it('shows an unknown id as itself', () => { expect(t('no.such.id')).toBe('no.such.id'); expect(has('no.such.id')).toBe(false); });
  it('is well formed, all of them', () => {
    for (const text of [...Object.values(BASE), ...Object.values(us as Record<string, string>)]) expect(() => put(text, { n: 2, over: 1, missing: 1, extra: 1, places: 1, batches: 1, count: 1 })).not.toThrow();
  });
});
