/** @jsxImportSource preact */
/** The screens over the fake farm, for looking at: ?empty, ?unpaired, ?offline choose its state. */
import { render } from 'preact';
import { Root } from '../../../../client/src/screens/Root';
import '../../../../client/src/style/index.css';
import { setApp, startPrefs } from '../../../../client/src/ui/app';
import { startRoutes } from '../../../../client/src/ui/route';
import { fakeApp } from '../fake';

const wish = new URLSearchParams(location.search);
const app = fakeApp({ paired: !wish.has('unpaired'), empty: wish.has('empty'), link: wish.has('offline') ? 'offline' : 'ok', unsent: wish.has('sent') ? 0 : 3 });
Object.assign(globalThis, { fake: app });
setApp(app);
startRoutes();
await startPrefs();
render(<Root pairCode={null} />, document.getElementById('app') as HTMLElement);
