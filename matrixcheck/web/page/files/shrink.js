// A picture of the camera as a photo: upright, not larger than the computer takes, and without what the camera wrote
// about time and place, as it is drawn anew.

export const LONGEST = 1600;
export const LARGEST = 1000000;
const QUALITIES = [0.85, 0.75, 0.6, 0.4, 0.2];

// The size at which the longer side fits; a small picture stays as it is.
export function fitted(width, height, longest = LONGEST) {
  const scale = Math.min(1, longest / Math.max(width, height));
  return { width: Math.max(1, Math.round(width * scale)), height: Math.max(1, Math.round(height * scale)) };
}

// A JPEG as a blob, or null where this browser can't read the picture.
export async function shrunk(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => null);
  if (picture === null) return null;
  const canvas = Object.assign(document.createElement("canvas"), fitted(picture.width, picture.height));
  const paper = canvas.getContext("2d");
  // What is see-through would come out black.
  paper.fillStyle = "#ffffff";
  paper.fillRect(0, 0, canvas.width, canvas.height);
  paper.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  for (const quality of QUALITIES) {
    const jpeg = await new Promise((done) => canvas.toBlob(done, "image/jpeg", quality));
    if (jpeg && jpeg.size <= LARGEST) return jpeg;
  }
  return null;
}
