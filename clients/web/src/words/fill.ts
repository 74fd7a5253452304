import { defineWords } from "./define";

export const fill = defineWords({
  en: {
    title: "Fill a nebulizer",
    scan: "Scan the bottle, or choose it",
    bottle: "Bottle",
    none: "There is no bottle here that may be used now. Ask the stores.",
    nebulizer: "Nebulizer",
    nebulizer_hint: "What is written on it. Only one that is marked for this solution.",
    volume: "Millilitres",
    volume_bad: "A number of millilitres, such as 1 or 1.5.",
    rinsed: "It was rinsed and shaken dry before",
    caution:
      "Use only marked equipment for each solution. Keep the spray out of the eyes; wipe up spills, wash hands.",
    save: "Filled",
    not_found: "This is no bottle that may be used here.",
  },
  es: {
    title: "Llenar un nebulizador",
    scan: "Escanee el frasco, o elíjalo",
    bottle: "Frasco",
    none: "Aquí no hay ningún frasco que se pueda usar ahora. Pregunte al almacén.",
    nebulizer: "Nebulizador",
    nebulizer_hint: "Lo que está escrito en él. Solo uno marcado para esta solución.",
    volume: "Mililitros",
    volume_bad: "Un número de mililitros, como 1 o 1,5.",
    rinsed: "Antes se enjuagó y se sacudió hasta secarlo",
    caution:
      "Use solo material marcado para cada solución. Que lo pulverizado no entre en los ojos; limpie lo derramado, lávese las manos.",
    save: "Llenado",
    not_found: "Este no es un frasco que se pueda usar aquí.",
  },
});
