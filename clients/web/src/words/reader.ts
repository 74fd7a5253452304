import { defineWords } from "./define";

/** Reading badges: by camera, by a scanner that types, by hand. */
export const reader = defineWords({
  en: {
    camera: "Use the camera",
    camera_off: "Camera off",
    starting: "The camera starts",
    picture: "Picture of the camera",
    denied: "The browser does not allow the camera. Allow it in the settings of this page.",
    missing: "No camera was found.",
    failed: "The camera could not be started. Type the serial, or use a scanner.",
    reader: "The reader of codes could not be loaded. Type the serial, or use a scanner.",
    again: "Try again",
    serial: "Serial on the badge",
    hint: "Ten characters, such as 7KQ2M-XW9RD",
    length: "A serial has ten characters.",
    character: "A serial has no such character in it: 0, 1, I, L, O, U and Z are in none.",
    check: "One character is wrong, or two changed places: compare once more.",
  },
  es: {
    camera: "Usar la cámara",
    camera_off: "Apagar la cámara",
    starting: "La cámara se está encendiendo",
    picture: "Imagen de la cámara",
    denied: "El navegador no permite la cámara. Permítala en los ajustes de esta página.",
    missing: "No se encontró ninguna cámara.",
    failed: "No se pudo encender la cámara. Escriba el número o use un lector.",
    reader: "No se pudo cargar el lector de códigos. Escriba el número o use un lector.",
    again: "Intentar otra vez",
    serial: "Número de la credencial",
    hint: "Diez caracteres, como 7KQ2M-XW9RD",
    length: "El número tiene diez caracteres.",
    character: "Ese carácter no existe en estos números: 0, 1, I, L, O, U y Z no se usan.",
    check: "Hay un carácter equivocado o dos cambiados de sitio: compare otra vez.",
  },
});
