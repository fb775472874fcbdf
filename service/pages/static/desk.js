// The desk: what waits is kept up to date.

import { Swap } from "./swap.js";

const element = document.getElementById("now");
const swap = new Swap(element, () => element.dataset.now);

setInterval(() => { if (!document.hidden) swap.renew().catch(() => {}); }, 3000);
