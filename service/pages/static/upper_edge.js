// Where a switch looks alike upside down, the photo does not tell which way up it is: the person taps the upper edge in
// it. The tap is that person's word and stands in the record as such.

// Resolves with [x, y], shares of width and height of the upright picture; null where it goes without.
export function tapUpperEdge(dialog, words, bytes, type) {
  const part = (name) => dialog.querySelector(`#edge-${name}`);
  const photo = part("photo"), mark = part("mark"), send = part("send"), skip = part("skip");
  const address = URL.createObjectURL(new Blob([bytes], { type }));
  photo.src = address;
  part("words").textContent = `Upper edge: ${words}. Tap the middle of it.`;
  mark.toggleAttribute("hidden", true);
  send.disabled = true;
  return new Promise((resolve) => {
    let at = null;
    photo.onclick = (event) => {
      const shown = photo.getBoundingClientRect();
      at = [(event.clientX - shown.left) / shown.width, (event.clientY - shown.top) / shown.height].map((share) => Math.min(1, Math.max(0, Number(share.toFixed(4)))));
      mark.style.left = `${100 * at[0]}%`;
      mark.style.top = `${100 * at[1]}%`;
      mark.toggleAttribute("hidden", false);
      send.disabled = false;
    };
    send.onclick = () => dialog.close("tapped");
    skip.onclick = () => dialog.close("without");
    dialog.addEventListener("close", () => {
      URL.revokeObjectURL(address);
      photo.removeAttribute("src");
      resolve(dialog.returnValue === "tapped" ? at : null);
      dialog.returnValue = "";
    }, { once: true });
    dialog.showModal();
  });
}
