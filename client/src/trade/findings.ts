/** What a sum has to say beside its result; the twin of server/bagtrail/trade/findings.py. */
export type Level = 'refuse' | 'warn' | 'note';
export type Values = Record<string, number | string>;

/** One remark: its text has the message id `finding.<code>`, `values` are the numbers it names. */
export interface Finding {
  code: string;
  level: Level;
  about: string;
  values: Values;
}

export function finding(code: string, level: Level, about = '', values: Values = {}): Finding {
  return { code, level, about, values };
}

/** Values that no sum can be made from; `code` is stable, `values` names what was wrong. */
export class Unfit extends Error {
  constructor(readonly code: string, readonly values: Values = {}) {
    super(code);
    this.name = 'Unfit';
  }
}
