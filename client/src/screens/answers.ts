/**
 * What each answer to a question writes. The fold only closes the question; whatever changes the count or the
 * stage is a record of its own, written in the same act, so that undo takes back both.
 */
import type { Draft, Line, Question } from '../app-types';

export interface Answer {
  /** The sentence is `answer.<rule>.<word>`. */
  word: string;
  /** What is written beside the answer itself. */
  also: (q: Question, newCode: (letter: string) => string) => Draft[];
}

const nothing = (): Draft[] => [];

const voidOf = (line: Line | undefined, sub?: string[]): Draft[] =>
  line ? [{ ty: 'record.voided', sub: sub ?? line.s, d: { target: line.id } }] : [];

// An act that names several bags is taken back for the one in question only.
const forThese = (q: Question, line: Line | undefined): Draft[] =>
  line && q.sub.every((c) => line.s.includes(c)) ? voidOf(line, q.sub) : voidOf(line);

const again = (q: Question, line: Line | undefined): Draft[] =>
  line ? [{ ty: line.k, sub: q.sub, d: line.d ?? {}, on: { ms: line.t, p: line.o ?? 'm' } }] : [];

export const ANSWERS: Record<string, Answer[]> = {
  after_end: [
    { word: 'both', also: nothing },
    { word: 'lives', also: (q) => forThese(q, q.lines[0]) },
    { word: 'act_wrong', also: (q) => forThese(q, q.lines[1]) },
  ],
  two_places: [
    { word: 'second', also: nothing },
    { word: 'first', also: (q) => forThese(q, q.lines[1]) },
  ],
  harvest_repeat: [
    { word: 'both', also: nothing },
    { word: 'once', also: (q) => voidOf(q.lines[1]) },
  ],
  strain_twice: [
    { word: 'second', also: (q) => forThese(q, q.lines[0]) },
    { word: 'first', also: (q) => forThese(q, q.lines[1]) },
  ],
  gate: [
    { word: 'keep', also: nothing },
    { word: 'dump', also: (q) => [{ ty: 'bag.finished', sub: q.sub, d: { cause: 'dumped' } }] },
  ],
  count_negative: [
    { word: 'later', also: nothing },
  ],
  split_voided: [
    { word: 'parent', also: nothing },
    { word: 'keep', also: (q) => q.voids.flatMap((v) => voidOf(v)) },
  ],
  label_twice: [
    { word: 'relabel', also: (q, newCode) => q.sub.filter((c) => c.startsWith('g-')).slice(0, 1).map((c) => ({ ty: 'group.split', sub: [c], d: { to: [newCode('B')] } })) },
    { word: 'one_bag', also: (q) => q.sub.filter((c) => c.startsWith('g-')).slice(0, 1).map((c) => ({ ty: 'group.corrected', sub: [c], d: { by: -1 } })) },
    { word: 'unlabelled', also: nothing },
  ],
  reach: [
    { word: 'no', also: nothing },
    { word: 'yes', also: (q) => again(q, q.lines[0]) },
  ],
  ring: [
    { word: 'leave', also: nothing },
  ],
  reference: [
    { word: 'second', also: nothing },
    { word: 'first', also: (q) => { const l = q.lines[0]; return l ? [{ ty: l.k, sub: l.s, d: l.d ?? {} }] : []; } },
  ],
};

/** Answers of a rule; a rule from the future can only be set aside. */
export const answersOf = (q: Question): Answer[] => ANSWERS[q.rule] ?? [{ word: 'leave', also: nothing }];

/** All drafts of an answer: the answer itself closes the question. */
export const draftsOf = (q: Question, answer: Answer, newCode: (letter: string) => string): Draft[] => [
  { ty: 'question.answered', sub: q.sub, d: { question: q.id, choice: answer.word } },
  ...answer.also(q, newCode),
];
