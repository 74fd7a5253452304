import { defineWords } from "./define";

export const signInWords = defineWords({
  en: {
    title: "Sign in",
    again_title: "Sign in again",
    again_intro: "The sign-in of {name} has ended. What is on the screen stays.",
    username: "Username",
    password: "Password",
    sign_in: "Sign in",
    somebody_else: "Sign in as somebody else",
    somebody_else_lost: "What was not stored on this screen is lost then.",
    device: "This is a device with a token",
    person: "Sign in as a person",
    token: "Token of the device",
    token_hint: "An administrator makes it under Set-up. It stays on this device until you sign out.",
    device_over: "The token of this device has ended. An administrator can make a new one.",
    caution_title: "Before you begin",
    caution:
      "This program keeps records and gives reminders. It does not decide whether a respirator protects a person. Local rules and the judgement of competent and licensed people come first.",
    plain_http: "This connection is not encrypted. Use it on this machine only.",
  },
  es: {
    title: "Iniciar sesión",
    again_title: "Inicie sesión otra vez",
    again_intro: "La sesión de {name} ha terminado. Lo que hay en la pantalla se conserva.",
    username: "Usuario",
    password: "Contraseña",
    sign_in: "Iniciar sesión",
    somebody_else: "Iniciar sesión como otra persona",
    somebody_else_lost: "Se perderá lo que no se guardó en esta pantalla.",
    device: "Este es un dispositivo con token",
    person: "Iniciar sesión como persona",
    token: "Token del dispositivo",
    token_hint:
      "Lo crea una persona administradora en Configuración. Queda en este dispositivo hasta cerrar sesión.",
    device_over: "El token de este dispositivo ha terminado. Una persona administradora puede crear otro.",
    caution_title: "Antes de empezar",
    caution:
      "Este programa guarda registros y da recordatorios. No decide si un respirador protege a una persona. Las normas locales y el juicio de personas competentes y habilitadas van primero.",
    plain_http: "Esta conexión no está cifrada. Úsela solo en este equipo.",
  },
});
