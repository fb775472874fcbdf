// A photo that can be enlarged, turned and lifted out of the dark. Nothing of it is computed: the picture alone.

const STEPS = [1, 1.5, 2, 3, 4, 6, 8];

export class Viewer {
  #at = 0;
  #turned = 0;
  #lifted = false;

  constructor(root) {
    this.pane = root.querySelector("#pane");
    this.image = root.querySelector("#photo");
    this.factor = root.querySelector("#factor");
    root.addEventListener("click", (event) => this.#pressed(event.target.closest("button")));
    this.pane.addEventListener("dblclick", () => this.#zoom(this.#at ? 0 : 3));
    this.pane.addEventListener("keydown", (event) => {
      if (event.key === "+" || event.key === "=") this.#zoom(this.#at + 1);
      else if (event.key === "-") this.#zoom(this.#at - 1);
    });
    this.#drag();
  }

  show(path) { this.image.src = path; this.#zoom(0); }

  #pressed(button) {
    if (!button) return;
    if (button.dataset.zoom) this.#zoom({ in: this.#at + 1, out: this.#at - 1, fit: 0 }[button.dataset.zoom]);
    else if ("turn" in button.dataset) { this.#turned = (this.#turned + 90) % 360; this.#draw(); }
    else if ("lift" in button.dataset) { this.#lifted = !this.#lifted; button.setAttribute("aria-pressed", String(this.#lifted)); this.#draw(); }
  }

  #zoom(to) {
    const { pane } = this, before = STEPS[this.#at];
    const middle = [(pane.scrollLeft + pane.clientWidth / 2) / before, (pane.scrollTop + pane.clientHeight / 2) / before];
    this.#at = Math.max(0, Math.min(STEPS.length - 1, to));
    this.#draw();
    const after = STEPS[this.#at];
    pane.scrollLeft = middle[0] * after - pane.clientWidth / 2;
    pane.scrollTop = middle[1] * after - pane.clientHeight / 2;
  }

  #draw() {
    const { pane, image } = this, factor = STEPS[this.#at];
    const scale = Math.min(pane.clientWidth / image.naturalWidth, pane.clientHeight / image.naturalHeight) * factor;
    pane.classList.toggle("zoomed", this.#at > 0);
    image.style.width = this.#at ? `${image.naturalWidth * scale}px` : "";
    image.style.height = this.#at ? `${image.naturalHeight * scale}px` : "";
    image.style.transform = this.#turned ? `rotate(${this.#turned}deg)` : "";
    image.style.filter = this.#lifted ? "brightness(1.6) contrast(1.15)" : "";
    this.factor.textContent = this.#at ? `${factor} times` : "whole";
  }

  #drag() {
    let from = null;
    this.pane.addEventListener("pointerdown", (event) => {
      if (event.pointerType !== "mouse" || !this.#at) return;
      from = [event.clientX + this.pane.scrollLeft, event.clientY + this.pane.scrollTop];
    });
    addEventListener("pointermove", (event) => { if (from) { this.pane.scrollLeft = from[0] - event.clientX; this.pane.scrollTop = from[1] - event.clientY; } });
    addEventListener("pointerup", () => { from = null; });
  }
}
