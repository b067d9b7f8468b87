// A WAV file of 32-bit floats, one channel: the samples exactly as the browser gave them.
// Layout: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft, 1991), and
// New Multimedia Data Types and Data Techniques (Microsoft, 1994) for WAVE_FORMAT_IEEE_FLOAT and its fact chunk.

const HEADER = 58;
const FLOAT = 3;

export function wavFile(pieces, sampleCount, sampleRate) {
  const header = new DataView(new ArrayBuffer(HEADER));
  const dataBytes = sampleCount * 4;
  const word = (at, text) => [...text].forEach((c, i) => header.setUint8(at + i, c.charCodeAt(0)));
  word(0, "RIFF");
  header.setUint32(4, HEADER - 8 + dataBytes, true);
  word(8, "WAVEfmt ");
  header.setUint32(16, 18, true);
  header.setUint16(20, FLOAT, true);
  header.setUint16(22, 1, true);
  header.setUint32(24, sampleRate, true);
  header.setUint32(28, sampleRate * 4, true);
  header.setUint16(32, 4, true);
  header.setUint16(34, 32, true);
  header.setUint16(36, 0, true);
  word(38, "fact");
  header.setUint32(42, 4, true);
  header.setUint32(46, sampleCount, true);
  word(50, "data");
  header.setUint32(54, dataBytes, true);
  return new Blob([header.buffer, ...pieces], { type: "audio/wav" });
}
