/** Version of Bagtrail, from pyproject.toml. In the page, workers and the service worker. */
declare const __APP_VERSION__: string;

/** Service worker only: addresses of all files that make the app start with no network, "/" among them. */
declare const __SHELL_FILES__: readonly string[];

/** Service worker only: changes whenever a file of the shell does (12 hex). */
declare const __SHELL_VERSION__: string;
