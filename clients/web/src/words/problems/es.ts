import type { ProblemCode } from "../../api/problem";

/** Lo ocurrido y qué hacer; véase `en.ts`. */
export const problemsEs: Record<ProblemCode, readonly [happened: string, todo: string]> = {
  unreachable: [
    "El servidor no responde.",
    "Compruebe la red. Lo que ha escrito sigue aquí: inténtelo otra vez.",
  ],
  // La petición.
  bad_json: [
    "El servidor no pudo leer lo que envió esta pantalla.",
    "Recargue la página; si sigue igual, avise a su administrador.",
  ],
  wrong_content_type: ["Aquí no se admite este tipo de archivo.", "Expórtelo como CSV en UTF-8."],
  body_too_large: ["Es demasiado grande.", "Envíe un archivo más pequeño."],
  unknown_path: [
    "El servidor no conoce esta petición.",
    "Recargue la página: el servidor puede ser de otra versión.",
  ],
  method_not_allowed: [
    "El servidor no admite esta petición.",
    "Recargue la página: el servidor puede ser de otra versión.",
  ],
  invalid_value: ["Algo de lo escrito no está permitido.", "Mire el lugar marcado y corríjalo."],
  invalid_cursor: ["La lista cambió mientras se leía.", "Cárguela otra vez."],
  // Quién pregunta.
  not_signed_in: ["No ha iniciado sesión.", "Inicie sesión."],
  session_ended: ["Su sesión ha terminado.", "Iníciela otra vez; lo que ha escrito se conserva."],
  wrong_role: ["Su función no incluye esto.", "Pregunte a quien gestiona los usuarios."],
  sign_in_refused: ["El usuario y la contraseña no corresponden.", "Escriba ambos otra vez."],
  sign_in_throttled: [
    "Demasiados intentos fallidos.",
    "Espere {retry_after_seconds} segundos e inténtelo otra vez.",
  ],
  tls_required: [
    "El servidor solo admite esto por una conexión cifrada.",
    "Abra la dirección que empieza por https.",
  ],
  // Lo guardado.
  not_found: ["No está aquí.", "Puede ser de otro centro, o no le corresponde verlo."],
  id_reused: ["Ya se guardó antes con otro contenido.", "Recargue la página y mire lo guardado."],
  already_exists: ["Ya está guardado.", "Busque lo que hay en vez de añadirlo otra vez."],
  stale_version: [
    "Otra persona lo cambió mientras tanto.",
    "Cárguelo otra vez y haga su cambio sobre el suyo.",
  ],
  happened_in_future: ["La hora está en el futuro.", "Compruebe el reloj de este dispositivo."],
  still_in_use: ["Otra cosa depende todavía de esto.", "Termine aquello primero."],
  station_closed: ["Este puesto está cerrado.", "Vuelva a abrirlo en su jornada o use otro puesto."],
  day_closed: ["Esta jornada está cerrada.", "Elija otra jornada."],
  // El servidor.
  busy: ["El servidor está ocupado.", "Inténtelo dentro de un momento."],
  database_unavailable: [
    "El servidor no alcanza sus registros. No se guardó nada.",
    "Inténtelo dentro de un momento.",
  ],
  streams_full: [
    "Demasiadas pantallas siguen al servidor en directo.",
    "Esta pantalla sigue y pregunta de vez en cuando.",
  ],
  internal: [
    "Algo falló en el servidor.",
    "Inténtelo otra vez; si sigue igual, dé a su administrador el número de abajo.",
  ],
  // Conjuntos de reglas.
  rule_set_invalid: [
    "El conjunto de reglas tiene errores. No se guardó nada.",
    "Corrija los lugares indicados abajo.",
  ],
  rule_set_open: [
    "Quedan valores del conjunto de reglas sin confirmar.",
    "Antes debe confirmarlos una persona identificada por su nombre.",
  ],
  // La plantilla.
  roster_not_text: ["El archivo no es texto UTF-8.", "Expórtelo otra vez como CSV en UTF-8."],
  roster_line_invalid: [
    "Hay líneas que no se pueden importar. No se guardó nada.",
    "Corrija las líneas indicadas abajo o la elección de columnas.",
  ],
  roster_column_missing: ["Falta una columna.", "Indique qué columna del archivo la contiene."],
  // Secuencias.
  event_out_of_order: ["Un paso anterior todavía no ha llegado.", "Se envía primero; espere un momento."],
  event_conflict: [
    "Otro dispositivo registró un paso aquí.",
    "Cargue el registro otra vez y siga desde ahí.",
  ],
  event_before_previous: [
    "La hora es anterior a la del paso previo.",
    "Compruebe el reloj de este dispositivo.",
  ],
  event_not_now: ["Este paso no corresponde ahora.", "Mire qué corresponde ahora."],
  // Registro de llegada y permiso.
  permission_missing: [
    "Ninguna decisión vigente permite a esta persona llevar un respirador.",
    "No haga la prueba. Envíela a salud laboral.",
  ],
  hair_at_seal: [
    "Hay vello en la zona de sellado.",
    "Así no se hace la prueba: ofrezca afeitarse ahora, otro día u otro equipo.",
  ],
  intake_too_recent: [
    "Hace demasiado poco que comió, bebió, fumó o mascó chicle.",
    "Espere hasta la hora indicada.",
  ],
  visit_not_open: ["Esta visita ha terminado.", "Registre otra vez su llegada si ha de seguir hoy."],
  nobody_ready: [
    "Nadie está listo para este puesto.",
    "Espere; se llama a la persona siguiente en cuanto esté lista.",
  ],
  // Cribado.
  explain_first: ["No se ha explicado el procedimiento.", "Explíquelo primero."],
  plain_water_first: ["Aquí se empieza con agua sola.", "Pruebe agua sola antes de la primera serie."],
  screening_ended: ["El cribado ha terminado.", "Abra otro si hay que repetirlo."],
  screening_open: ["Hay un cribado abierto.", "Termínelo primero."],
  agent_closed_today: ["Hoy no se notó este agente.", "Use el otro agente o derive a la persona."],
  agent_switch_wait: [
    "No ha terminado el descanso tras el otro agente.",
    "Espere {seconds_remaining} segundos.",
  ],
  wait_after_fail: [
    "No ha terminado el descanso tras una prueba no superada.",
    "Espere {seconds_remaining} segundos.",
  ],
  // Prueba, colocación.
  must_be_donned_by_wearer: [
    "La persona debe ponerse el respirador.",
    "Que se lo quite y se lo ponga sin ayuda.",
  ],
  donned_before_screening: [
    "El respirador ya estaba puesto antes de acabar el cribado.",
    "Que se lo quite y se lo ponga otra vez.",
  ],
  already_donned: ["El respirador ya está puesto.", "Registre antes que se lo quitó."],
  not_donned: ["El respirador no está puesto.", "Que se lo ponga primero."],
  wear_time_short: ["No lo ha llevado el tiempo suficiente.", "Espere {seconds_remaining} segundos."],
  seal_check_missing: ["Falta una comprobación de sellado correcta desde que se lo puso.", "Hágala primero."],
  redon_first: ["Falló la comprobación de sellado.", "Que se lo quite y se lo ponga otra vez."],
  not_ready: ["Todavía no está listo.", "La capucha debe estar puesta y el sabor del cribado, desaparecido."],
  // Medición.
  reading_file_invalid: [
    "El archivo de lecturas no se puede leer así. No se guardó nada.",
    "Corrija los lugares indicados abajo.",
  ],
  implausible_value: ["Este valor es casi imposible.", "Léalo otra vez."],
  negative_pressure_mode_required: [
    "Un respirador con aire propio se prueba solo en modo de presión negativa.",
    "Cambie a ese modo.",
  ],
  filter_not_suitable: ["El filtro no sirve para este método.", "Use el filtro que el método pide."],
  // Prueba y cierre.
  wrong_dose: ["No es el número de apretones que corresponde.", "Dé el número indicado."],
  dose_too_early: ["Aún no es hora de la dosis siguiente.", "Espere {seconds_remaining} segundos."],
  dose_due: ["Es hora de una dosis.", "Dela primero."],
  exercise_out_of_order: ["Los ejercicios siguen su orden.", "Continúe con el indicado."],
  exercise_too_short: ["El ejercicio no ha durado lo debido.", "Espere {seconds_remaining} segundos."],
  closing_incomplete: ["Falta algo antes de firmarla como superada.", "Responda lo que sigue abierto."],
  attempt_ended: ["La prueba ha terminado.", "Fírmela."],
  attempt_open: ["Hay una prueba abierta.", "Termínela primero."],
  // Escalera.
  new_screening_required: ["Antes hace falta otro cribado.", "Repita hoy el cribado y luego pruebe."],
  different_respirator_required: ["Este respirador falló hoy o no se pudo llevar.", "Use otro distinto."],
  referred_today: ["Se ha usado el último paso de hoy.", "Derive a la persona."],
  stopped_needs_clinician: [
    "Se detuvo una prueba porque la persona no se encontraba bien.",
    "Antes de la siguiente debe decidir un profesional clínico.",
  ],
  test_method_not_allowed: [
    "Este tipo de prueba no puede autorizar este respirador para su uso.",
    "Use otro método.",
  ],
  // Material.
  lot_stopped: ["El lote está detenido.", "Apártelo y use otro."],
  stopped: ["Esto está detenido.", "Apártelo y use otro."],
  stop_released: ["Ya se había liberado.", "No queda nada que liberar."],
  bottle_expired: ["El frasco está caducado.", "Use otro frasco."],
  bottle_not_opened: ["El frasco no tiene fecha de apertura.", "Pregunte al almacén."],
  opened_life_over: ["El frasco lleva demasiado tiempo abierto.", "Use otro frasco."],
  fill_missing: ["Ningún nebulizador del puesto tiene esta solución.", "Llene primero el nebulizador."],
  fill_too_old: ["El llenado es demasiado antiguo.", "Enjuague y rellene el nebulizador."],
  fill_wrong_agent: ["El llenado es de otro agente.", "Use el nebulizador correcto."],
  fill_wrong_solution: ["El llenado es de la otra solución.", "Use el nebulizador correcto."],
  fill_on_top: ["Queda un resto en el nebulizador.", "Vacíelo y enjuáguelo primero."],
  bottle_elsewhere: [
    "Según los registros, el frasco está en otro lugar.",
    "Entréguelo o páselo primero a este puesto.",
  ],
  nebulizer_unknown: [
    "No hay ningún nebulizador registrado con esta etiqueta.",
    "Mire la etiqueta otra vez; lo nuevo se registra primero.",
  ],
  expiry_ambiguous: [
    "El día y el mes de esta caducidad pueden confundirse.",
    "Escríbala con el mes en letras, o como año-mes-día.",
  ],
  bottle_empty: ["Según los registros, el frasco no tiene tanto.", "Compruebe cuánto queda o use otro."],
  nebulizer_out: ["El nebulizador está fuera de uso.", "Use otro hasta que se arregle."],
  hood_not_ready: ["La capucha no está lista.", "Use otra o espere a que se seque."],
  first_expired_first: ["Aquí hay algo igual que caduca antes.", "Use eso primero o dé un motivo."],
  moved_meanwhile: ["Ya no está donde cree.", "Cargue el lugar otra vez."],
  label_unreadable: ["No se puede leer la etiqueta.", "Escanéela otra vez o escriba el número."],
  // Credenciales y accesos.
  not_cleared: ["La persona no tiene autorización que imprimir.", "No se imprime nada; mire su registro."],
  badge_held: [
    "La credencial está retenida mientras se aclara algo.",
    "No imprima nada de ella hasta que se libere.",
  ],
  badge_outdated: [
    "Algo ha cambiado desde que se hizo la credencial.",
    "No la entregue: imprímala de nuevo y destruya esta.",
  ],
  badge_handed_over: ["La credencial ya se había entregado.", "Compare nombre y cara antes de devolverla."],
  badge_of_another: ["Esta credencial es de otra persona.", "No la entregue; busque la correcta."],
  no_badge: ["Esta persona no tiene ninguna credencial que cuente.", "No queda nada que dar de baja."],
  no_badge_due: [
    "Nadie de esta jornada necesita ahora una credencial.",
    "Quien aún está en prueba vendrá después; mire la tanda que se está haciendo.",
  ],
  batch_running: ["Estas credenciales aún se están haciendo.", "Imprímalas cuando la tanda esté lista."],
  hold_released: ["La credencial ya se había liberado.", "No queda nada que liberar."],
  badge_already_ended: ["La credencial ya estaba de baja.", "No queda nada que dar de baja."],
  no_glyph: ["Ninguna fuente tiene una letra del nombre.", "Diga a su administrador qué nombre es."],
  already_reviewed: ["Alguien ya lo ha mirado.", "Cargue la lista otra vez para ver quién."],
  already_corrected: ["El registro ya se corrigió.", "Mire la corrección."],
};
