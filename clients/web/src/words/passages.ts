// What the person reads aloud during the talking exercise: texts of our own, each long enough for a minute when it is
// read again from the beginning. The language is that of the reader, not of the screen.

export interface Passage {
  language: string;
  /** Its own name, in itself. */
  name: string;
  direction: "ltr" | "rtl";
  text: string;
}

export const PASSAGES: readonly Passage[] = [
  {
    language: "en",
    name: "English",
    direction: "ltr",
    text:
      "Before the market opens, the baker carries six warm trays across the square. A grey cat follows her and waits " +
      "by the fountain. On Thursdays the flower seller comes early, puts blue buckets in a row, and argues with the " +
      "wind about her parasol. Children on their way to school count the pigeons on the clock tower and never agree. " +
      "By noon the square smells of bread, oranges and wet stone. When the bells have rung, everybody begins again.",
  },
  {
    language: "es",
    name: "Español",
    direction: "ltr",
    text:
      "Antes de que abra el mercado, la panadera cruza la plaza con seis bandejas calientes. Un gato gris la sigue y " +
      "espera junto a la fuente. Los jueves la florista llega temprano, pone en fila sus cubos azules y discute con el " +
      "viento por su sombrilla. Los niños que van a la escuela cuentan las palomas del reloj y nunca se ponen de " +
      "acuerdo. A mediodía la plaza huele a pan, a naranjas y a piedra mojada. Cuando suenan las campanas, todo empieza " +
      "otra vez.",
  },
  {
    language: "pt",
    name: "Português",
    direction: "ltr",
    text:
      "Antes de o mercado abrir, a padeira atravessa a praça com seis tabuleiros quentes. Um gato cinzento segue-a e " +
      "espera junto à fonte. Às quintas-feiras a florista chega cedo, põe os baldes azuis em fila e discute com o vento " +
      "por causa do guarda-sol. As crianças a caminho da escola contam os pombos na torre do relógio e nunca concordam. " +
      "Ao meio-dia a praça cheira a pão, a laranjas e a pedra molhada. Depois de tocarem os sinos, tudo recomeça.",
  },
  {
    language: "fr",
    name: "Français",
    direction: "ltr",
    text:
      "Avant l'ouverture du marché, la boulangère traverse la place avec six plateaux chauds. Un chat gris la suit et " +
      "attend près de la fontaine. Le jeudi, la fleuriste arrive tôt, aligne ses seaux bleus et se dispute avec le vent " +
      "à cause de son parasol. Les enfants qui vont à l'école comptent les pigeons sur la tour de l'horloge et ne sont " +
      "jamais d'accord. À midi, la place sent le pain, les oranges et la pierre mouillée. Quand les cloches ont sonné, " +
      "tout recommence.",
  },
  {
    language: "ar",
    name: "العربية",
    direction: "rtl",
    text:
      "قبل أن يفتح السوق، تعبر الخبازة الساحة وهي تحمل ست صوانٍ دافئة. تتبعها قطة رمادية وتنتظر قرب النافورة. وفي كل " +
      "خميس تصل بائعة الزهور مبكرة، وتضع دلاءها الزرقاء في صف واحد، ثم تجادل الريح بسبب مظلتها. يعدّ الأطفال في طريقهم " +
      "إلى المدرسة الحمام على برج الساعة ولا يتفقون أبداً. وعند الظهر تفوح من الساحة رائحة الخبز والبرتقال والحجر المبلل. " +
      "وحين تدق الأجراس يبدأ كل شيء من جديد.",
  },
];
