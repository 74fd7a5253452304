import { defineWords } from "./define";

export const facePanelWords = defineWords({
  en: {
    nav: "Face panel",
    title: "Which face lengths belong together?",
    intro:
      "A panel sorts faces by length and width into cells, so that the size that fitted most of a cell is tried first. The one loaded last is the site's.",
    caution: "A suggestion from measurements or history only saves time. It never replaces a test.",
    name: "Name of the panel",
    source: "Where its bounds come from",
    source_hint: "A published panel with its edition, or measured here.",
    cells: "Cells, one a line",
    cells_hint:
      "Name; length from; length below; width from; width below. Millimetres, with semicolons or tabs between. A face on the upper bound belongs to the next cell.",
    cell_wrong: "Line {n}: a name and four numbers, each bound from smaller to larger.",
    cells_overlap: "Every face belongs to one cell at most: look for bounds that overlap.",
    load: "Load it",
    loaded: "{name} is loaded, with {n} cells.",
  },
  es: {
    nav: "Panel de caras",
    title: "¿Qué medidas de la cara van juntas?",
    intro:
      "Un panel reparte las caras por longitud y anchura en casillas, para probar primero la talla que más ajustó en cada una. Vale el último que se cargó.",
    caution: "Una sugerencia por medidas o por historia solo ahorra tiempo. Nunca sustituye a una prueba.",
    name: "Nombre del panel",
    source: "De dónde salen sus límites",
    source_hint: "Un panel publicado con su edición, o medido aquí.",
    cells: "Casillas, una por línea",
    cells_hint:
      "Nombre; longitud desde; longitud por debajo de; anchura desde; anchura por debajo de. En milímetros, con punto y coma o tabulador. Una cara en el límite superior es de la casilla siguiente.",
    cell_wrong: "Línea {n}: un nombre y cuatro números, cada límite de menor a mayor.",
    cells_overlap: "Cada cara es de una casilla como mucho: busque límites que se solapan.",
    load: "Cargarlo",
    loaded: "{name} está cargado, con {n} casillas.",
  },
});
