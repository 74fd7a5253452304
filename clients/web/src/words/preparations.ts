import { defineWords } from "./define";

export const preparationWords = defineWords({
  en: {
    nav: "Made in-house",
    title: "What was made here?",
    intro:
      "Only what the rule set has a recipe for. It becomes a lot with its own number, and lasts no longer than the recipe says.",
    what: "What was made",
    lot_number: "Lot number",
    lot_number_hint: "What is written on it, such as OWN-2026-031.",
    made_by: "Made by",
    made_at: "Made at",
    last_day: "Last day of its use",
    last_day_hint: "Empty: what the recipe says. It may be earlier, never later.",
    last_day_wrong: "On or after the day it was made, and never later than the recipe says.",
    no_recipe: "The site's rule set has no recipe for this: it cannot be made here.",
    made: "Record it",
    caution:
      "Use only marked equipment for each solution. Clean by the label; allow the full contact and drying time.",
  },
  es: {
    nav: "Hecho aquí",
    title: "¿Qué se preparó aquí?",
    intro:
      "Solo aquello para lo que las reglas tienen receta. Pasa a ser un lote con su número y no dura más de lo que dice la receta.",
    what: "Qué se preparó",
    lot_number: "Número de lote",
    lot_number_hint: "Lo que lleva escrito, como PROPIO-2026-031.",
    made_by: "Preparado por",
    made_at: "Preparado el",
    last_day: "Último día de uso",
    last_day_hint: "Vacío: lo que dice la receta. Puede ser antes, nunca después.",
    last_day_wrong: "El día de su preparación o después, y nunca más tarde de lo que dice la receta.",
    no_recipe: "Las reglas del centro no tienen receta para esto: no puede prepararse aquí.",
    made: "Anotarlo",
    caution:
      "Use solo material marcado para cada solución. Límpielo según la etiqueta; respete el tiempo completo de contacto y secado.",
  },
});
