/**
 * Fills one message: `{name}`, `{n, plural, one {# bag} other {# bags}}`, `{x, select, a {...} other {...}}`.
 * A small, fast part of ICU MessageFormat: nesting works, `#` is the counted number, no quoting.
 */
export type Params = Record<string, string | number | undefined>;

/** Index just after the brace that closes the one at `open`. */
function closing(text: string, open: number): number {
  let depth = 0;
  for (let i = open; i < text.length; i += 1) {
    if (text[i] === '{') depth += 1;
    else if (text[i] === '}') {
      depth -= 1;
      if (depth === 0) return i + 1;
    }
  }
  throw new Error(`message without closing brace: ${text}`);
}

function branches(text: string): Record<string, string> {
  const out: Record<string, string> = {};
  let at = 0;
  for (;;) {
    const open = text.indexOf('{', at);
    if (open < 0) return out;
    const end = closing(text, open);
    out[text.slice(at, open).trim()] = text.slice(open + 1, end - 1);
    at = end;
  }
}

/** The message with its parameters put in. A missing parameter shows as its name, so it is seen. */
export function fill(
  text: string,
  params: Params,
  rules: Intl.PluralRules,
  number: (n: number) => string,
  counted?: number,
): string {
  let out = '';
  let at = 0;
  while (at < text.length) {
    const open = text.indexOf('{', at);
    const plain = open < 0 ? text.slice(at) : text.slice(at, open);
    out += counted === undefined ? plain : plain.replace(/#/g, number(counted));
    if (open < 0) break;
    const end = closing(text, open);
    const inner = text.slice(open + 1, end - 1);
    const [name = '', kind] = inner.split(',', 2).map((s) => s.trim());
    const value = params[name];
    if (kind === 'plural' || kind === 'select') {
      const choice = branches(inner.slice(inner.indexOf(',', inner.indexOf(',') + 1) + 1));
      const key = kind === 'plural' ? rules.select(Number(value)) : String(value);
      const exact = choice[`=${value}`] ?? choice[key] ?? choice['other'] ?? '';
      out += fill(exact, params, rules, number, kind === 'plural' ? Number(value) : counted);
    } else if (value === undefined) out += `{${name}}`;
    else out += typeof value === 'number' ? number(value) : value;
    at = end;
  }
  return out;
}
