// Small values kept on this device. Where the browser keeps nothing, they last as long as the page.

const here = new Map();

export function kept(name) {
  try { return localStorage.getItem(`limitwitness.${name}`) ?? here.get(name) ?? null; } catch { return here.get(name) ?? null; }
}

export function keep(name, value) {
  here.set(name, value);
  try { localStorage.setItem(`limitwitness.${name}`, value); } catch { /* kept in the page alone */ }
}
