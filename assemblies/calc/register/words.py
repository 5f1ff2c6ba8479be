"""People's own words for a register's columns and for what stands in them.

The words are common practice in English, German, French and Spanish; no published source.
"""

from collections.abc import Mapping

from .fields import Field

# A column's whole name, folded (small letters, no accents, no signs, units taken out).
EXACT: Mapping[Field, str] = {
    Field.TAG: """tag|tag no|tag nr|tag number|tag id|hose tag|hose no|hose nr|hose number|hose id
        |hose ref|hose mark|mark|id|hose|assembly|assembly no|assembly id|asset tag|ident|ref|ref no
        |reference|label|barcode|hose serial|serial of hose|identification
        |schlauchnummer|schlauch nr|kennzeichen|kennzeichnung|schlauchkennzeichnung|schlauch id
        |marke|numero|repere|repere flexible|numero de flexible|n flexible|no flexible
        |identifiant|etiquette|etiqueta
        |numero de manguera|manguera no|identificacion|serial|serial no|serial nr|serial number|sn
        |s n|seriennummer|fabriknummer|numero de serie|no de serie|n serie|n de serie""",
    Field.MACHINE: """machine|machine no|machine nr|machine number|machine id|fleet no|fleet nr
        |fleet number|fleet id|unit|unit no|unit number|plant|plant no|plant number|asset|asset no
        |asset id|equipment|equipment no|equip|equip no|vehicle|truck|mc|mc no|m c
        |maschine|maschinen nr|maschinennummer|gerat|gerate nr|geratenummer|fahrzeug|inventarnummer
        |engin|engin no|numero engin|numero de parc|numero machine|materiel
        |maquina|maquina no|equipo|numero de maquina|vehiculo""",
    Field.MACHINE_CLASS: """machine class|class|kind|kind of machine|machine type|type of machine
        |equipment type
        |plant type|machine kind|category|machine category|maschinentyp|maschinenart|gerateart
        |type engin|type d engin|type de machine|tipo de maquina|tipo de equipo""",
    Field.MACHINE_MAKER: """machine make|machine maker|machine manufacturer|oem|make|maker
        |manufacturer|hersteller|marque|constructeur|fabricante|marca""",
    Field.MACHINE_MODEL: """machine model|model|modell|modele|modelo|baumuster""",
    Field.MACHINE_SERIAL: """machine serial|machine serial no|machine serial number|pin|vin|chassis
        |chassis no|fahrgestellnummer|maschinen seriennummer|serie machine|serie maquina""",
    Field.PLACE: """place|position|pos|location|location on machine|where|where fitted
        |where on machine|fitted to
        |hose position|hose location|application|from to|point|area|component|line|description
        |hose description|item description|what|einbauort|einbaustelle|einbaulage|lage|ort|stelle
        |emplacement|localisation|endroit|position sur machine|designation|posicion|ubicacion|lugar
        |descripcion|bezeichnung""",
    Field.CIRCUIT: """circuit|system|function|hydraulic circuit|service|hyd circuit|kreis
        |hydraulikkreis|kreislauf|funktion|circuit hydraulique|fonction|circuito|sistema|funcion""",
    Field.CONSEQUENCE: """consequence|criticality|critical|risk|severity|priority|if it fails
        |consequence of failure|folge|folge bei versagen|kritikalitat|risiko|gravite|criticite
        |consequence de la defaillance|criticidad|riesgo|consecuencia""",
    Field.STORE: """store|stores|store location|storage|storage location|bin|shelf|rack|stock
        |stock location|warehouse|spare location|lager|lagerort|lagerplatz|magasin|rayon|stockage
        |almacen|estante|bodega""",
    Field.HOSE_TYPE: """hose type|type|type of hose|hose spec|spec|specification|hose grade|grade
        |construction|hose construction|hose standard|standard|hose quality|schlauchtyp|schlauchart
        |typ|norm|type de flexible|type flexible|norme|tipo|tipo de manguera|norma""",
    Field.SIZE: """size|hose size|dn|nw|dash|dash size|dia|diameter|bore|hose bore|hose dia
        |nominal size|nominal bore|nom bore|inside diameter|inner diameter|i d|nb|nennweite
        |durchmesser|innendurchmesser|grosse|diametre|diametre nominal|dimension|taille|diametro
        |tamano|medida|size of hose""",
    Field.LENGTH: """length|len|l|hose length|overall length|assembly length|oal|cut length
        |total length|lange|schlauchlange|gesamtlange|longueur|long|longitud|largo""",
    Field.PRESSURE: """pressure|wp|mwp|w p|working pressure|max working pressure|maximum working
        pressure|rated pressure|pressure rating|rating|operating pressure|max wp|press|bar|psi|mpa
        |druck|betriebsdruck|arbeitsdruck|nenndruck|zulassiger betriebsdruck|pression
        |pression de service|pression max|presion|presion de trabajo|presion maxima""",
    Field.END_A: """end a|end 1|end1|enda|a end|fitting a|fitting 1|coupling a|coupling 1|first end
        |1st end|near end|end fitting a|end fitting 1|termination a|hose end a|hose end 1
        |ende a|ende 1|armatur a|armatur 1|anschluss a|anschluss 1|embout a|embout 1|raccord a
        |raccord 1|extremite a|extremo a|extremo 1|terminal a|terminal 1|conexion a""",
    Field.END_B: """end b|end 2|end2|endb|b end|fitting b|fitting 2|coupling b|coupling 2|second end
        |2nd end|far end|end fitting b|end fitting 2|termination b|hose end b|hose end 2
        |ende b|ende 2|armatur b|armatur 2|anschluss b|anschluss 2|embout b|embout 2|raccord b
        |raccord 2|extremite b|extremo b|extremo 2|terminal b|terminal 2|conexion b""",
    Field.MADE: """hose made|made|hose date|hose date code|date code|hose mfg|mfg|mfg date|mfd
        |hose manufactured|manufactured|manufacture date|date of manufacture|dom|hose made on
        |layline date|hose age|herstelldatum|herstellung|hergestellt|schlauch hergestellt
        |herstelldatum schlauch|date de fabrication|fabrique|fabrication|fecha de fabricacion
        |fabricacion|fabricado""",
    Field.BUILT: """built|build date|date built|assembly built|assembled|assembly date
        |date assembled|date of assembly|made up|crimped|crimp date|date crimped|hose built
        |konfektioniert|konfektionsdatum|gebaut am|assemble|date d assemblage|assemblage|sertissage
        |armado|fecha de armado|ensamblado|fecha de ensamblaje""",
    Field.FITTED: """fitted|fitted on|date fitted|fit date|fitting date|installed|install date
        |installed on|date installed|installation date|date of installation|in service
        |in service since|in service date|replaced|replaced on|date replaced|last replaced
        |last changed|changed|changed on|date changed|eingebaut|eingebaut am|einbaudatum|montiert
        |montiert am|montagedatum|gewechselt am|monte|monte le|date de montage|date de pose|pose le
        |remplace le|instalado|fecha de instalacion|fecha de montaje|montado|cambiado""",
    Field.FITTED_HOURS: """hours at fitting|hours fitted|fitted hours|fitted at|fitted at hours
        |hours at fit|hours when fitted|hours at install|hours at installation|install hours
        |installed hours|installed at hours|smu at fitting|smu fitted|smu at install
        |meter at fitting|meter at install|hour meter at fitting|machine hours at fitting
        |hours at change|changed at|betriebsstunden bei einbau|bh einbau
        |stunden bei einbau|bh bei einbau
        |heures au montage|heures a la pose|compteur au montage|horas al montaje
        |horas al instalar|horas de instalacion""",
    Field.HOURS_NOW: """hours|hours now|smu now|hrs|hrs now|current hours|present hours
        |machine hours|smu
        |smu hours|smr|hour meter|hourmeter|hours meter|meter|meter reading|hour reading|hours run
        |engine hours|latest hours|hours today|betriebsstunden|bh|stunden|stundenzahler|heures
        |heures machine|compteur|compteur horaire|horas|horometro|horas de maquina""",
    Field.HOURS_ON: """hours date|date of hours|reading date|date of reading|meter date|hours on
        |smu date|smu read on|hours as at|as at|as of|hours read on|read on|stand vom|ablesedatum
        |date du releve|releve le|fecha de lectura|fecha de horas""",
    Field.INSPECTED: """inspected|last inspected|inspection|last inspection|inspection date
        |date inspected|inspected on|last check|last checked|checked|checked on|date checked
        |letzte prufung|gepruft|gepruft am|prufdatum|prufung|dernier controle|controle
        |controle le|date de controle|verifie le|inspeccion|ultima inspeccion|inspeccionado
        |fecha de inspeccion|revisado""",
    Field.NOTE: """note|notes|remark|remarks|comment|comments|observation|observations|info
        |bemerkung|bemerkungen|anmerkung|hinweis|notiz|remarque|remarques|commentaire
        |commentaires|notas|nota|observaciones|comentarios|comentario""",
}

# Words that must all stand in the name, where no whole name fits. First fitting line wins.
LIKE: tuple[tuple[Field, str], ...] = (
    (Field.FITTED_HOURS, "hours fitted|hours fitting|hours install|hours installed|smu install"),
    (
        Field.FITTED_HOURS,
        "hrs fitted|hrs fitting|hrs install|hrs installed|smu fitted|hours change",
    ),
    (Field.FITTED_HOURS, "betriebsstunden einbau|stunden einbau|heures montage|horas montaje"),
    (Field.HOURS_ON, "date reading|date hours|date meter|date smu|hours read|smu read|read on"),
    (Field.INSPECTED, "last inspection|date inspection|last inspected|last check|letzte prufung"),
    (Field.INSPECTED, "dernier controle|ultima inspeccion|date inspected"),
    (
        Field.MADE,
        "hose made|hose manufactured|hose manufacture|hose mfg|date manufacture|date code",
    ),
    (Field.MADE, "date manufactured|herstelldatum|fecha fabricacion|date fabrication"),
    (Field.BUILT, "assembly date|assembly built|date assembled|date built|crimp date"),
    (
        Field.FITTED,
        "date fitted|date installed|install date|date installation|fitted on|einbaudatum",
    ),
    (Field.FITTED, "date changed|date replaced|last replaced|last changed|fecha instalacion"),
    (
        Field.HOURS_NOW,
        "current hours|machine hours|hour meter|hours now|engine hours|meter reading",
    ),
    (Field.HOURS_NOW, "betriebsstunden|current smu|compteur heures"),
    (Field.END_A, "end a|fitting a|end 1|fitting 1|coupling 1|coupling a|armatur a|armatur 1"),
    (Field.END_A, "anschluss a|embout a|embout 1|raccord 1|terminal a|terminal 1"),
    (Field.END_B, "end b|fitting b|end 2|fitting 2|coupling 2|coupling b|armatur b|armatur 2"),
    (Field.END_B, "anschluss b|embout b|embout 2|raccord 2|terminal b|terminal 2"),
    (Field.PRESSURE, "working pressure|rated pressure|max pressure|betriebsdruck|pression service"),
    (Field.PRESSURE, "operating pressure|presion trabajo"),
    (Field.LENGTH, "hose length|overall length|assembly length|cut length|schlauchlange|longueur"),
    (Field.SIZE, "hose size|hose bore|dash size|nominal size|nennweite|diametre nominal|hose dia"),
    (Field.HOSE_TYPE, "hose type|hose spec|hose standard|schlauchtyp|type flexible|tipo manguera"),
    (Field.MACHINE_CLASS, "machine type|machine class|type machine|equipment type|type engin"),
    (Field.MACHINE_MODEL, "machine model|equipment model"),
    (Field.MACHINE_MAKER, "machine make|machine maker|machine manufacturer|equipment make"),
    (Field.MACHINE_SERIAL, "machine serial|equipment serial|serie machine|serie maquina"),
    (Field.STORE, "store location|storage location|stock location|lagerort|stores bin"),
    (Field.TAG, "hose tag|tag number|tag no|hose number|hose no|hose id|schlauchnummer|hose ref"),
    (
        Field.MACHINE,
        "fleet number|fleet no|machine number|machine no|machine id|unit number|plant no",
    ),
    (
        Field.PLACE,
        "where machine|position machine|location machine|hose position|hose location|einbauort",
    ),
    (Field.CIRCUIT, "hydraulic circuit|hydraulikkreis"),
    (Field.CONSEQUENCE, "consequence failure|folge versagen"),
    (Field.NOTE, "comments|remarks|bemerkung|observaciones|remarques"),
)

# A name with one of these is about something else, however much of it fits.
ABOUT_OTHERS = frozenset(
    [
        *("next", "due", "planned", "test", "proof", "burst", "surge", "qty", "quantity", "price"),
        *("cost", "supplier", "vendor", "photo", "picture", "drawing", "page", "invoice", "order"),
        *("nachste", "naechste", "prufdruck", "prochain", "prochaine", "proxima", "proximo"),
        *("budget", "interval"),
    ]
)

CIRCUITS: tuple[tuple[str, str], ...] = (
    ("steering", "steer lenk direction direccion"),
    ("brakes", "brake bremse frein freno"),
    ("pilot", "pilot servo joystick control steuer vorsteuer pilotage mando"),
    ("suction", "suction saug aspiration succion"),
    ("case_drain", "drain leakoff leak leckol fuite drenaje"),
    ("return", "return rucklauf retour retorno tank"),
    ("attachment", "attachment aux auxiliary breaker hammer coupler anbau accessoire implemento"),
    (
        "travel",
        "travel drive propel traction hydrostatic track transmission fahr avance traslacion",
    ),
    (
        "working",
        """working boom arm stick dipper bucket tilt swing slew hoist lift blade ripper crowd
        cylinder ram body dump tip work arbeits hub travail levage trabajo elevacion""",
    ),
)

CONSEQUENCES: Mapping[str, str] = {
    "hurts": "hurts|hurts someone|safety|injury|harm|people|personal injury|danger|verletzung",
    "stops": "stops|stops the machine|breakdown|downtime|machine down|production|stillstand|arret",
    "pollutes": "pollutes|pollution|environment|spill|oil spill|umwelt|environnement|derrame",
    "nuisance": "nuisance|minor|none to speak of|gering|mineur|menor",
    "unknown": "unknown|not yet judged|unbekannt|inconnu|desconocido",
}

# What people write where they know nothing: read as an empty cell, and counted.
NOTHING_KNOWN = frozenset(
    [
        *("-", "--", "---", "–", "—", "?", "??", "???", ".", "..", "...", "/", "n/a", "na", "n.a."),
        *("n.a", "none", "nil", "null", "unknown", "unkn", "unk", "tbc", "tba", "tbd", "k.a."),
        *("k.a", "ka", "s.o.", "o.a.", "inconnu", "inconnue", "desconocido", "unbekannt", "keine"),
        *("ninguno", "aucun", "aucune", "n/k", "nk", "not known", "not recorded", "no data"),
        *("no record", "not available"),
    ]
)
NO_TAG = frozenset(
    {"no tag", "not tagged", "untagged", "tag missing", "missing", "no id", "no mark", "illegible"}
    | {"unreadable", "worn off", "ohne", "ohne nr", "ohne nummer", "sans", "sans numero"}
    | {"sin", "sin numero", "sin etiqueta", "nicht lesbar", "illisible", "ilegible"}
)
SAME_AS_ABOVE = frozenset(
    {'"', "''", "″", "〃", '-"-', '- " -', "do.", "do", "ditto", "dto", "dto.", "idem", "id."}
    | {"as above", "same", "same as above", "wie oben", "„"}
)

TOTALS = (
    *("total", "totals", "grand total", "sub total", "subtotal", "sum", "count", "number of hoses"),
    *("summe", "gesamt", "gesamtsumme", "anzahl", "zwischensumme", "somme", "total general"),
    *("sous total", "nombre", "suma", "suma total", "cantidad"),
)
