// Photographs made small enough for a weak signal.
(() => {
  "use strict";
  const LONGEST_SIDE = 2560, QUALITY = 0.85;
  const LARGEST = 20_000_000; // what the server takes [byte]

  // Decoded no larger than it is kept: 48 million pixels are 190 MB, which a phone may not have.
  async function decoded(file) {
    const upright = { imageOrientation: "from-image" };
    const { width, height } = await sizeOf(file);
    const share = Math.min(1, LONGEST_SIDE / Math.max(width, height));
    const size = { resizeWidth: Math.max(1, Math.round(width * share)), resizeHeight: Math.max(1, Math.round(height * share)) };
    return createImageBitmap(file, share < 1 ? { ...upright, ...size, resizeQuality: "medium" } : upright);
  }

  // As it is shown, upright; told by the browser without decoding the picture.
  async function sizeOf(file) {
    const image = new Image(), address = URL.createObjectURL(file);
    try {
      await new Promise((done, failed) => Object.assign(image, { onload: done, onerror: failed, src: address }));
      return { width: image.naturalWidth, height: image.naturalHeight };
    } finally {
      URL.revokeObjectURL(address);
    }
  }

  // A canvas that the phone has no memory for stays clear, and would be written as black.
  function isDrawn(context, { width, height }) {
    return [0.02, 0.5, 0.98].every((across) => [0.02, 0.5, 0.98].every((down) =>
      context.getImageData(Math.floor(width * across), Math.floor(height * down), 1, 1).data[3] === 255));
  }

  // Smaller and without what the camera wrote beside the picture; as it is when that fails.
  async function made(file) {
    try {
      const picture = await decoded(file);
      const canvas = document.createElement("canvas");
      Object.assign(canvas, { width: picture.width, height: picture.height });
      const context = canvas.getContext("2d");
      context.drawImage(picture, 0, 0);
      picture.close();
      if (!isDrawn(context, canvas)) return file;
      const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
      return blob && blob.size < file.size ? blob : file;
    } catch {
      return file; // the server says whether it can be used
    }
  }

  let last = Promise.resolve();

  // One after the other: two large ones at once may be more than the phone has memory for.
  // Throws where the server would not take it.
  function smaller(file) {
    last = last.catch(() => {}).then(async () => {
      const blob = await made(file);
      if (blob.size <= LARGEST) return blob;
      throw new Error(`it has ${Math.round(blob.size / 1e6)} MB, this phone could not make it smaller, and ` +
        `up to ${LARGEST / 1e6} MB is taken: take it again with a smaller picture size`);
    });
    return last;
  }

  window.splicewright = Object.assign(window.splicewright || {}, { smaller });
})();
