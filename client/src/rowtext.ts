/** A row as the view stores it. */
import type { RowText } from './db';
import type { Row } from './fold';

/** The form in which a row is stored. */
export function stored(row: Row, text = JSON.stringify(row)): RowText {
  const refs = row['refs'] as string[] | undefined;
  return { unit: row.unit, ...(refs ? { refs } : {}), ...(row.archived ? { archived: row['last'] as number } : {}), text };
}
