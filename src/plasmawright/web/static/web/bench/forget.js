// Whoever signs out leaves no patient's page behind; entries that wait to be sent stay until they are.

import { forgetPages } from "./kept.js";

forgetPages();
for (const key of Object.keys(localStorage)) {
  if (key.startsWith("plasmawright ")) localStorage.removeItem(key);
}
