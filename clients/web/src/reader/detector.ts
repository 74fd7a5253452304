// Reads QR codes in pictures: with the browser's own reader where it has one, else with zxing, whose WebAssembly comes
// from this server and only when a camera is switched on.

type Source = HTMLVideoElement | HTMLCanvasElement | ImageBitmap;

export interface Detector {
  /** The texts of the codes in a picture. */
  detect: (picture: Source) => Promise<string[]>;
}

/** The Barcode Detection API (W3C community group); few browsers have it. */
interface Native {
  new (options: { formats: string[] }): { detect: (picture: Source) => Promise<{ rawValue: string }[]> };
  getSupportedFormats: () => Promise<string[]>;
}

const QR = "qr_code";

let made: Promise<Detector> | undefined;

/** The reader of codes; loaded once. */
export function qrDetector(): Promise<Detector> {
  made ??= make().catch((error: unknown) => {
    // Another try may have a network.
    made = undefined;
    throw error;
  });
  return made;
}

async function make(): Promise<Detector> {
  const native = (globalThis as { BarcodeDetector?: Native }).BarcodeDetector;
  const formats = await native?.getSupportedFormats().catch((): string[] => []);
  if (native && formats?.includes(QR)) return texts(native);
  const [{ BarcodeDetector, prepareZXingModule }, { default: wasm }] = await Promise.all([
    import("barcode-detector/ponyfill"),
    import("zxing-wasm/reader/zxing_reader.wasm?url"),
  ]);
  const locateFile = (path: string, prefix: string) => (path.endsWith(".wasm") ? wasm : prefix + path);
  await prepareZXingModule({ overrides: { locateFile }, fireImmediately: true });
  return texts(BarcodeDetector as unknown as Native);
}

function texts(Reader: Native): Detector {
  const reader = new Reader({ formats: [QR] });
  return { detect: async picture => (await reader.detect(picture)).map(code => code.rawValue) };
}
