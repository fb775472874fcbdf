// Day or night as it was chosen on this device; without a choice the device decides. Runs before the page is drawn.
try {
  const kept = localStorage.getItem("limitwitness.light");
  if (kept) document.documentElement.dataset.light = kept;
} catch { /* A browser that keeps nothing still shows the page. */ }
