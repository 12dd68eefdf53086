/** The screens that the wide rail and More offer, in the order of a day: the one list of them. */
import { helper } from './app';

/** Each is a route, and has its words in `screen.<name>` and `about.<name>`. */
const SCREENS = [
  'rounds', 'new-batch', 'opening', 'loads', 'inoculate', 'harvest', 'bench', 'move', 'rooms', 'setup', 'labels', 'records', 'answers',
  'settings',
];

/** A helper's phone offers its four acts on the first screen, and its own settings. */
export const menu = (): string[] => (helper.value ? ['settings'] : SCREENS);
