// The live camera: a picture as large as the camera gives, taken here and now. A photo from a file is marked imported.

const LARGEST = { width: { ideal: 4096 }, height: { ideal: 3072 }, facingMode: { ideal: "environment" } };

export class Camera {
  #stream = null;

  constructor(dialog, view) {
    Object.assign(this, { dialog, view });
    dialog.addEventListener("close", () => this.#off());
  }

  // Raises the browser's own refusal.
  async open() {
    if (!navigator.mediaDevices?.getUserMedia) throw Object.assign(new Error("it needs a secure page"), { name: "NoCamera" });
    this.#stream = await navigator.mediaDevices.getUserMedia({ video: LARGEST });
    this.view.srcObject = this.#stream;
    this.dialog.showModal();
    await this.view.play().catch(() => {});
  }

  async take() {
    const bytes = await this.#still();
    this.dialog.close();
    return { bytes, type: "image/jpeg" };
  }

  async #still() {
    const { videoWidth: width, videoHeight: height } = this.view;
    const canvas = Object.assign(document.createElement("canvas"), { width, height });
    canvas.getContext("2d").drawImage(this.view, 0, 0);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.92));
    return new Uint8Array(await blob.arrayBuffer());
  }

  #off() {
    this.#stream?.getTracks().forEach((track) => track.stop());
    this.#stream = null;
    this.view.srcObject = null;
  }
}
