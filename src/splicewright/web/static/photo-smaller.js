// Photographs made small enough for a weak signal.
(() => {
  "use strict";
  const LONGEST_SIDE = 2560, QUALITY = 0.85;

  // Smaller and without what the camera wrote beside the picture; as it is when that fails.
  async function smaller(file) {
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const share = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(picture.width * share));
      canvas.height = Math.max(1, Math.round(picture.height * share));
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      picture.close();
      const made = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
      return made && made.size < file.size ? made : file;
    } catch {
      return file; // the server says whether it can be used
    }
  }

  window.splicewright = Object.assign(window.splicewright || {}, { smaller });
})();
