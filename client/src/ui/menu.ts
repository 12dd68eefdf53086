/** The screens that the wide rail and More offer, what waits for a person first, then in the order of a day: the one list. */
import { helper } from './app';

/** Each is a route, and has its words in `screen.<name>` and `about.<name>`. */
const SCREENS = [
  'answers', 'rounds', 'new-batch', 'opening', 'loads', 'inoculate', 'harvest', 'bench', 'move', 'rooms', 'setup', 'labels', 'records',
  'settings',
];

/** A helper's phone offers its four acts on the first screen, and its own settings. */
export const menu = (): string[] => (helper.value ? ['settings'] : SCREENS);
