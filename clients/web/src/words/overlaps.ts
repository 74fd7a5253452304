import { defineWords } from "./define";

export const overlaps = defineWords({
  en: {
    nav: "To be decided",
    title: "Who was tested at two stations at once?",
    intro:
      "Both attempts are kept, and neither clears anybody until one of them is taken out. Ask both testers who sat in front of them.",
    none: "Nothing is to be decided",
    none_more: "No person of this day was at two stations at the same time.",
    station: "Station",
    time: "From, until",
    respirator: "Respirator",
    result: "Result",
    take_out: "This one does not count",
    why: "Why does it not count?",
    why_hint: "Who said so, and what happened. No health details here.",
    why_needed: "Say why.",
    confirm: "Take it out",
    stays: "It stays readable, and nothing makes it count again.",
  },
  es: {
    nav: "Por decidir",
    title: "¿Quién se probó en dos puestos a la vez?",
    intro:
      "Las dos pruebas se conservan, y ninguna autoriza a nadie hasta que se retire una. Pregunte a quienes hicieron las pruebas a quién tenían delante.",
    none: "No hay nada que decidir",
    none_more: "En esta jornada nadie estuvo en dos puestos a la vez.",
    station: "Puesto",
    time: "Desde, hasta",
    respirator: "Respirador",
    result: "Resultado",
    take_out: "Esta no cuenta",
    why: "¿Por qué no cuenta?",
    why_hint: "Quién lo dijo y qué pasó. Aquí no van datos de salud.",
    why_needed: "Diga por qué.",
    confirm: "Retirarla",
    stays: "Se puede seguir leyendo, y nada hace que vuelva a contar.",
  },
});
