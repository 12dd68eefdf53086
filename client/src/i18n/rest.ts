/** The texts beyond the first screen: whatever module says one of them imports this, so they are there before it draws. */
import { addTexts } from './index';
import rest from './en-GB.rest.json';

addTexts(rest);
