import { defineWords } from "./define";

export const keyWords = defineWords({
  en: {
    nav: "Signing keys",
    title: "Which keys sign badges?",
    intro:
      "A key that signs or is accepted is published with its public half. The private halves never leave the server, and no screen touches them.",
    none: "There is no key yet. The server makes the first one when it is needed.",
    key: "Key",
    state: "State",
    state_stands_by: "Stands by",
    state_signs: "Signs",
    state_accepted: "Accepted",
    state_retired: "Retired",
    state_withdrawn: "Withdrawn",
    made: "Made",
    in_force: "Badges in force",
    published: "Where anybody reads them",
    published_hint: "A JSON Web Key Set (RFC 7517), for whoever checks badges without this program.",
    commands: "Changed on the server, by command",
    commands_hint:
      "Keys are changed where the server runs, by somebody who may sign in there; running servers follow at once.",
    list: "Shows each key: standing by, signing, accepted, retired, withdrawn",
    create: "Makes a key that stands by: published, and unused",
    rotate: "Lets the one that stands by sign; what the old one signed is accepted on",
    retire: "Ends an old key; refused while badges in force stand on it",
    withdraw: "For a key in wrong hands: every badge of it ends, and another key signs",
    reseal: "Changes the secret that seals the private keys",
  },
  es: {
    nav: "Claves de firma",
    title: "¿Qué claves firman las credenciales?",
    intro:
      "De cada clave que firma o se acepta se publica la mitad pública. La mitad privada no sale nunca del servidor, y ninguna pantalla la toca.",
    none: "Todavía no hay ninguna clave. El servidor crea la primera cuando hace falta.",
    key: "Clave",
    state: "Estado",
    state_stands_by: "En espera",
    state_signs: "Firma",
    state_accepted: "Aceptada",
    state_retired: "Fuera de uso",
    state_withdrawn: "Revocada",
    made: "Creada",
    in_force: "Credenciales vigentes",
    published: "Dónde las lee cualquiera",
    published_hint:
      "Un conjunto de claves JSON (RFC 7517), para quien comprueba credenciales sin este programa.",
    commands: "Se cambian en el servidor, con una orden",
    commands_hint:
      "Las claves las cambia, donde corre el servidor, quien puede entrar allí; los servidores en marcha se actualizan al momento.",
    list: "Muestra cada clave: en espera, firmando, aceptada, fuera de uso, revocada",
    create: "Crea una clave en espera: publicada y sin usar",
    rotate: "Hace firmar a la que espera; lo firmado por la anterior se sigue aceptando",
    retire: "Termina una clave antigua; se rechaza mientras haya credenciales vigentes suyas",
    withdraw: "Para una clave en malas manos: todas sus credenciales quedan de baja y firma otra",
    reseal: "Cambia el secreto que sella las claves privadas",
  },
});
