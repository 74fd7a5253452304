import { defineWords } from "./define";

/** The one answer, large enough for a corridor. */
export const gateAnswers = defineWords({
  en: {
    enter: "Enter",
    not_cleared: "Not cleared",
    cannot_confirm: "Cannot confirm",
    not_valid: "Badge not valid",
  },
  es: {
    enter: "Puede entrar",
    not_cleared: "Sin autorización",
    cannot_confirm: "No se puede confirmar",
    not_valid: "Credencial no válida",
  },
});

/** What to do, in the server's own sentences (server/rules/src/gate.rs): a test compares them. */
export const SENTENCES = {
  enter: "Match name and face, check the respirator in use here, let the person in.",
  none_needed: "No respirator is needed here now. Match name and face, let the person in.",
  not_cleared:
    "Do not let the person in with the respirator used here. Ask them to contact occupational health.",
  held: "Cannot confirm just now. Ask the person to contact occupational health; call the lead if it is urgent.",
  too_old: "Cannot confirm: what this gate knows is too old. Follow the written fallback.",
  clock: "Cannot confirm: this gate's clock may be wrong. Check the time and confirm it.",
  no_policy: "No rule for this gate: call the lead.",
  unreadable: "Not a badge code. Scan again or type the serial, and check the name.",
  not_ours: "Not one of our badges: check the name and call the lead.",
  over: "This badge no longer counts. Check the name and ask the person for their present badge.",
  check_name: "Check the name: compare name and face, and ask for another card with the name on it.",
} as const;

export const gateInstructions = defineWords({
  en: SENTENCES,
  es: {
    enter: "Compare nombre y cara, compruebe el respirador que se usa aquí y deje pasar.",
    none_needed: "Ahora no hace falta respirador aquí. Compare nombre y cara y deje pasar.",
    not_cleared:
      "No deje pasar con el respirador que se usa aquí. Pida a la persona que hable con salud laboral.",
    held: "Ahora no se puede confirmar. Pida a la persona que hable con salud laboral; si es urgente, llame a la persona responsable.",
    too_old:
      "No se puede confirmar: lo que sabe este acceso es demasiado antiguo. Siga la instrucción escrita.",
    clock: "No se puede confirmar: el reloj de este acceso puede ir mal. Mire la hora y confírmela.",
    no_policy: "No hay norma para este acceso: llame a la persona responsable.",
    unreadable:
      "No es un código de credencial. Escanéela otra vez o escriba el número, y compruebe el nombre.",
    not_ours: "No es una de nuestras credenciales: compruebe el nombre y llame a la persona responsable.",
    over: "Esta credencial ya no cuenta. Compruebe el nombre y pida la credencial actual.",
    check_name: "Compruebe el nombre: compare nombre y cara y pida otra tarjeta en la que figure el nombre.",
  },
});

export const gate = defineWords({
  en: {
    nav: "Gate",
    title: "May this person go in here?",
    ready: "Ready for the next badge",
    ready_camera: "Hold the code on the badge in front of the camera.",
    ready_typed: "Scan the badge, or type the serial that is printed beside its code.",
    asking: "One moment",
    for_here: "for the respirator used here",
    respirator: "Respirator",
    name: "Name",
    name_on_badge: "The name is on the badge: compare it with the face.",
    typed: "The serial was typed: check that name and face on the badge are this person's.",
    serial: "Badge {serial}",
    fallback: "Written fallback of this gate",
    used_here: "Used here",
    used_none: "No respirator is needed here now",
    used_unknown: "Not known",
    used_nothing: "No rule is in force",
    coming: "From {when}: {what}",
    known: "What this gate knows",
    known_now: "Up to date",
    known_age: "{span} old",
    known_limit: "counts for {span}",
    known_never: "Nothing yet",
    clock: "Clock",
    alone: "The server does not answer. This gate answers alone, with what it knew {span} ago.",
    alone_too_old:
      "What this gate knows is {span} old and counts no longer: every badge gets “cannot confirm”.",
    alone_nothing:
      "This gate knows nothing yet: every badge gets “cannot confirm”. Connect it to the server; until then call the lead.",
    unreadable_pack:
      "What this gate knows cannot be read: every badge gets “cannot confirm”. Connect it to the server; until then call the lead.",
    unreadable_pack_todo: "It comes from another version of the program, or was damaged.",
    refused_pack: "What the server sent was not believed, and what this gate held before stays.",
    no_subtle:
      "This connection is not encrypted: the camera is off, and without the network this gate cannot answer. Open it with https.",
    token_over:
      "The token of this device has ended. This gate answers alone as long as its knowledge counts.",
    token_over_todo: "An administrator can make a new one.",
    token_new: "Sign this device in again",
    sound_off: "Touch the screen once: browsers play no sound before.",
    not_a_gate: "This screen belongs to the device of a gate",
    not_a_gate_todo:
      "An administrator adds the device of a gate; its token signs this device in. A person who is signed in stands at no gate.",
    not_kept: "This reading could not be kept. Write it down, and have the device looked at.",
    answer: "Answer",
    next: "Next person",
    lead: "Entry under a lead's name",
    lead_intro: "Help is never delayed: the touch keeps it, and somebody looks at it the next day.",
    lead_reason: "Because",
    lead_emergency_call: "a team was called to an emergency",
    lead_cannot_confirm: "this gate cannot confirm",
    lead_nobody_else: "nobody else can come in time",
    lead_urgent_repair: "something has to be mended at once",
    lead_other_urgent: "something else cannot wait",
    lead_under: "Let in under {name}",
    lead_other: "Another name",
    lead_other_label: "Name of the lead who decides",
    lead_other_keep: "Let in under this name",
    lead_none: "The rules of this gate name nobody. An entry is kept all the same.",
    lead_kept: "Let the person in",
    lead_kept_more: "{name} decides and answers for it. Kept at {time}: {reason}.",
    lead_open: "Open",
    found: "Somebody hands in a badge",
    found_kept: "Written down. Keep the badge until the badge desk has it, and hand it to nobody else.",
    clock_doubt: "Is it {time} now?",
    clock_jumped_back: "The clock of this device was set back by {span}.",
    clock_jumped_ahead: "The clock of this device went ahead by {span}, or the device slept.",
    clock_server_ahead: "The server's clock is {span} ahead of this one.",
    clock_server_behind: "The server's clock is {span} behind this one.",
    clock_before_pack: "What this gate knows was signed {span} later than this clock shows: set the clock.",
    clock_confirm: "The clock is right",
    caution: "“Not cleared” and “cannot confirm” say nothing about a person's health or conduct.",
    caution_emergency:
      "In an emergency follow the emergency procedure. This device informs; the person in charge decides and signs.",
    caution_pass:
      "A pass holds only for the make, model, style and size tested, on the face as it was that day.",
  },
  es: {
    nav: "Acceso",
    title: "¿Puede entrar aquí esta persona?",
    ready: "Listo para la siguiente credencial",
    ready_camera: "Ponga el código de la credencial ante la cámara.",
    ready_typed: "Escanee la credencial o escriba el número impreso junto al código.",
    asking: "Un momento",
    for_here: "para el respirador que se usa aquí",
    respirator: "Respirador",
    name: "Nombre",
    name_on_badge: "El nombre está en la credencial: compárelo con la cara.",
    typed:
      "El número se escribió a mano: compruebe que nombre y cara de la credencial son los de esta persona.",
    serial: "Credencial {serial}",
    fallback: "Instrucción escrita de este acceso",
    used_here: "Se usa aquí",
    used_none: "Ahora no hace falta respirador aquí",
    used_unknown: "No se sabe",
    used_nothing: "No hay norma en vigor",
    coming: "Desde {when}: {what}",
    known: "Lo que sabe este acceso",
    known_now: "Al día",
    known_age: "de hace {span}",
    known_limit: "vale durante {span}",
    known_never: "Nada todavía",
    clock: "Reloj",
    alone: "El servidor no responde. Este acceso responde solo, con lo que sabía hace {span}.",
    alone_too_old:
      "Lo que sabe este acceso es de hace {span} y ya no vale: toda credencial recibe «no se puede confirmar».",
    alone_nothing:
      "Este acceso no sabe nada todavía: toda credencial recibe «no se puede confirmar». Conéctelo al servidor; hasta entonces llame a la persona responsable.",
    unreadable_pack:
      "No se puede leer lo que sabe este acceso: toda credencial recibe «no se puede confirmar». Conéctelo al servidor; hasta entonces llame a la persona responsable.",
    unreadable_pack_todo: "Es de otra versión del programa, o se dañó.",
    refused_pack: "No se aceptó lo que envió el servidor; se mantiene lo que este acceso ya tenía.",
    no_subtle:
      "Esta conexión no está cifrada: la cámara está apagada y sin red este acceso no puede responder. Ábralo con https.",
    token_over:
      "El token de este dispositivo ha terminado. Este acceso responde solo mientras valga lo que sabe.",
    token_over_todo: "Una persona administradora puede crear otro.",
    token_new: "Identificar de nuevo este dispositivo",
    sound_off: "Toque la pantalla una vez: antes el navegador no deja sonar nada.",
    not_a_gate: "Esta pantalla es del dispositivo de un acceso",
    not_a_gate_todo:
      "Una persona administradora añade el dispositivo de un acceso; con su token se identifica este aparato. Quien inicia sesión como persona no está en ningún acceso.",
    not_kept: "No se pudo guardar esta lectura. Apúntela y haga revisar el dispositivo.",
    answer: "Consultar",
    next: "Siguiente persona",
    lead: "Entrada a nombre de una persona responsable",
    lead_intro: "La ayuda nunca espera: al tocar queda anotado, y al día siguiente alguien lo mira.",
    lead_reason: "Porque",
    lead_emergency_call: "se llamó a un equipo a una emergencia",
    lead_cannot_confirm: "este acceso no puede confirmar",
    lead_nobody_else: "nadie más puede llegar a tiempo",
    lead_urgent_repair: "hay que reparar algo enseguida",
    lead_other_urgent: "otra cosa no puede esperar",
    lead_under: "Entrada a nombre de {name}",
    lead_other: "Otro nombre",
    lead_other_label: "Nombre de la persona responsable que decide",
    lead_other_keep: "Entrada a nombre de esta persona",
    lead_none: "La norma de este acceso no nombra a nadie. La entrada se anota igualmente.",
    lead_kept: "Deje pasar a la persona",
    lead_kept_more: "Decide y responde {name}. Anotado a las {time}: {reason}.",
    lead_open: "Abrir",
    found: "Alguien entrega una credencial encontrada",
    found_kept:
      "Anotado. Guarde la credencial hasta que la tenga la mesa de credenciales y no la entregue a nadie más.",
    clock_doubt: "¿Son las {time}?",
    clock_jumped_back: "El reloj de este dispositivo se atrasó {span}.",
    clock_jumped_ahead: "El reloj de este dispositivo se adelantó {span}, o el dispositivo estuvo dormido.",
    clock_server_ahead: "El reloj del servidor va {span} por delante de este.",
    clock_server_behind: "El reloj del servidor va {span} por detrás de este.",
    clock_before_pack:
      "Lo que sabe este acceso se firmó {span} después de la hora que marca este reloj: póngalo en hora.",
    clock_confirm: "El reloj va bien",
    caution:
      "«Sin autorización» y «no se puede confirmar» no dicen nada de la salud ni de la conducta de nadie.",
    caution_emergency:
      "En una emergencia siga el procedimiento de emergencia. Este aparato informa; la persona al mando decide y firma.",
    caution_pass:
      "Una prueba superada vale solo para la marca, el modelo, el estilo y la talla probados, en la cara tal como era ese día.",
  },
});
