import type { Wire } from "../api/client";
import { defineWords } from "./define";
import { language } from "./language";

/** What may be wrong with a file of readings, by the server's code. What exactly stands there is shown beside it. */
const readingFaults = defineWords({
  en: {
    mapping_wrong: "The mapping contradicts itself: mend it, or make another one.",
    too_large: "The file is too large: export the tests of one day alone.",
    not_text: "The line is not UTF-8 text: export the file again as CSV in UTF-8.",
    test_missing: "Say which test of the file is meant.",
    test_needs_column:
      "No column tells the tests of the file apart: name it in the mapping, or name no test.",
    header_missing: "The line is empty or not there.",
    no_such_column: "There is no such column: compare its name with this line.",
    column_ambiguous: "Several columns have this name: give the number of the one that is meant.",
    quote_open: "A quotation mark is not closed: a cell that holds one puts it twice, between two others.",
    cell_count:
      "The line has another number of cells than the first one: a cell that holds what separates cells goes between quotation marks.",
    too_many_lines: "A test has no so many lines: name the column of the test.",
    nothing_to_read: "No line of the file belongs to this test.",
    exercise_count: "The test has another number of lines than exercises are named.",
    unknown_exercise: "This exercise is not known here: give the name its number in the mapping.",
    test_twice: "The test stands on an earlier line already.",
    several_tests: "The file holds several tests: name the column that tells them apart.",
    cell_empty: "The cell is empty where a number is needed.",
    wrong_mark: "The cell holds a mark that is not the one before decimals; nothing may part thousands.",
    not_a_number: "The cell is no number that can be read: digits, and one mark before decimals at most.",
    cannot_be: "The number cannot be what it is said to be: look at the instrument, and at the mapping.",
  },
  es: {
    mapping_wrong: "La correspondencia se contradice: corríjala o haga otra.",
    too_large: "El archivo es demasiado grande: exporte solo las pruebas de un día.",
    not_text: "La línea no es texto UTF-8: exporte otra vez el archivo como CSV en UTF-8.",
    test_missing: "Diga de qué prueba del archivo se trata.",
    test_needs_column:
      "Ninguna columna distingue las pruebas del archivo: nómbrela en la correspondencia o no nombre ninguna prueba.",
    header_missing: "La línea está vacía o no existe.",
    no_such_column: "No hay tal columna: compare su nombre con esta línea.",
    column_ambiguous: "Varias columnas se llaman así: dé el número de la correcta.",
    quote_open: "Una comilla no se cierra: en una celda que contiene una se pone dos veces, entre otras dos.",
    cell_count:
      "La línea no tiene tantas celdas como la primera: una celda que contiene el separador va entre comillas.",
    too_many_lines: "Una prueba no tiene tantas líneas: nombre la columna de la prueba.",
    nothing_to_read: "Ninguna línea del archivo es de esta prueba.",
    exercise_count: "La prueba no tiene tantas líneas como ejercicios se nombran.",
    unknown_exercise: "Este ejercicio no se conoce aquí: dé su número al nombre en la correspondencia.",
    test_twice: "La prueba ya está en una línea anterior.",
    several_tests: "El archivo contiene varias pruebas: nombre la columna que las distingue.",
    cell_empty: "La celda está vacía donde hace falta un número.",
    wrong_mark: "La celda contiene un signo que no es el de los decimales; los miles no se separan.",
    not_a_number: "La celda no es un número legible: cifras y, como mucho, un signo decimal.",
    cannot_be: "El número no puede ser lo que se dice: mire el instrumento y la correspondencia.",
  },
} satisfies Record<"en" | "es", Record<Wire<"FileCode">, string>>);

/** In English the server's sentence, which names what stands there; it has no other language. */
export const readingFault = ({ code, reason }: Wire<"ReadingFileProblem">): string =>
  language.value === "en" ? reason : (readingFaults[code]?.() ?? reason);
