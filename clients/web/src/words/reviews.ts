import { defineWords } from "./define";

/** What happened at gates and is looked at the next day. */
export const reviews = defineWords({
  en: {
    nav: "To look at",
    title: "What happened at the gates that somebody has to look at?",
    intro:
      "Entries under a lead's name, and one badge read at two gates too soon. A wrong clock, a lent badge and a copied one look alike here: people find out which it was.",
    waiting: "Waits",
    done: "Looked at",
    waiting_none: "Nothing waits",
    waiting_none_more: "Everything that happened at the gates was looked at.",
    done_none: "Nobody has looked at anything yet",
    by: "{name}, {at}",
  },
  es: {
    nav: "Por revisar",
    title: "¿Qué pasó en los accesos que alguien tiene que revisar?",
    intro:
      "Entradas a nombre de una persona responsable, y una credencial leída en dos accesos demasiado pronto. Un reloj mal puesto, una credencial prestada y una copiada parecen lo mismo aquí: las personas averiguan cuál fue.",
    waiting: "Esperan",
    done: "Revisadas",
    waiting_none: "Nada espera",
    waiting_none_more: "Todo lo que pasó en los accesos está revisado.",
    done_none: "Nadie ha revisado nada todavía",
    by: "{name}, {at}",
  },
});
