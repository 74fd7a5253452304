import { defineWords } from "./define";

/** The audit chain. */
export const audit = defineWords({
  en: {
    nav: "Audit chain",
    title: "What was written, by whom, in which order?",
    intro:
      "Every write appends a row that names the fingerprint of the row before it. Nothing here can be changed.",
    from: "From row",
    from_number: "A whole number from 1.",
    show: "Show",
    whole: "The whole chain",
    of_one: "Only the rows about one record.",
    only_this: "only this",
    none: "There are no rows here",
    seq: "Row",
    when: "Recorded",
    actor: "By",
    action: "What",
    subject: "About",
    print: "Fingerprint",
    hash: "This row",
    previous: "The row before",
    digest: "What it is about, as it was then",
    by_program: "the program itself",
    by_device: "a device",
    by_user: "a user",
    linked: {
      one: "{n} row is shown",
      other: "Each of these {n} rows names the one before it",
    },
    linked_more:
      "This screen compares the links. The command “sellion audit verify” works every fingerprint out again.",
    broken: "Row {seq} does not follow the row before it",
    broken_todo:
      "Change nothing. Call whoever runs this installation: the command “sellion audit verify” says more.",
  },
  es: {
    nav: "Cadena de auditoría",
    title: "¿Qué se escribió, por quién y en qué orden?",
    intro: "Cada escritura añade una fila que nombra la huella de la anterior. Aquí nada se puede cambiar.",
    from: "Desde la fila",
    from_number: "Un número entero desde 1.",
    show: "Mostrar",
    whole: "La cadena entera",
    of_one: "Solo las filas sobre un registro.",
    only_this: "solo esto",
    none: "Aquí no hay filas",
    seq: "Fila",
    when: "Registrada",
    actor: "Por",
    action: "Qué",
    subject: "Sobre",
    print: "Huella",
    hash: "Esta fila",
    previous: "La fila anterior",
    digest: "Aquello de lo que trata, como era entonces",
    by_program: "el propio programa",
    by_device: "un dispositivo",
    by_user: "un usuario",
    linked: {
      one: "Se muestra {n} fila",
      other: "Cada una de estas {n} filas nombra a la anterior",
    },
    linked_more:
      "Esta pantalla compara los enlaces. La orden «sellion audit verify» vuelve a calcular cada huella.",
    broken: "La fila {seq} no sigue a la anterior",
    broken_todo:
      "No cambie nada. Avise a quien mantiene esta instalación: la orden «sellion audit verify» dice más.",
  },
});
