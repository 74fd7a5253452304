import { defineWords } from "./define";

export const kit = defineWords({
  en: {
    loading: "Loading",
    try_again: "Try again",
    request_id: "Number of this request: {id}",
    as_of: "The server does not answer. What stands here was read {span} ago.",
    save: "Save",
    cancel: "Cancel",
    back: "Back",
    close: "Close",
    yes: "Yes",
    no: "No",
    more: "Show more",
    required: "Please answer this.",
  },
  es: {
    loading: "Cargando",
    try_again: "Intentar otra vez",
    request_id: "Número de esta petición: {id}",
    as_of: "El servidor no responde. Lo que ve se leyó hace {span}.",
    save: "Guardar",
    cancel: "Cancelar",
    back: "Volver",
    close: "Cerrar",
    yes: "Sí",
    no: "No",
    more: "Mostrar más",
    required: "Responda a esto, por favor.",
  },
});
