/**
 * The stage notation for editors that colour and fold by a tree.
 *
 * The program's own parser decides what a design means; this grammar gives every word a place, and gives it while a line is half
 * typed. So it is lenient on purpose: a line is a row of what may stand in it, most of it optional. A line ends with its own token (see
 * src/scanner.c), behind which nothing of it can be of any harm: what cannot be read stays inside its line.
 *
 * The lists of words are those of crates/notation/src/word.rs; tests/editors/check_tree_sitter.py compares them.
 */

/// <reference types="tree-sitter-cli/dsl" />

// Names are of a-z; of other letters those of Europe are kept together, so that a word with one of them stays one word.
const LETTER = 'A-Za-z_\\u00C0-\\u00D6\\u00D8-\\u00F6\\u00F8-\\u024F\\u0370-\\u1FFF';
const NAME = `[${LETTER}][${LETTER}0-9]*`;
const COPY = '([A-Za-z_][A-Za-z0-9_]*\\.)*';
const PREFIX = '[fpnµ\\u03BCumkMGT]?';
const TAIL = '/((√|rt)Hz|[µ\\u03BCum]s)';

const ATTRIBUTES = [
  'polar', 'bipolar', 'film', 'foil', 'ceramic', 'electrolytic', 'tantalum', 'mica', 'polyester', 'polypropylene', 'polystyrene', 'paper',
  'c0g', 'np0', 'x5r', 'x6s', 'x7r', 'x7s', 'x8r', 'y5v', 'z5u', 'carbon', 'metal', 'thin', 'thick', 'wirewound', 'air', 'ferrite', 'iron',
  'lin', 'log', 'revlog', 'open', 'closed', 'external', 'unfitted',
];

module.exports = grammar({
  name: 'stage',

  word: $ => $.name,

  // A line's end is a token behind a heading or an entry only; elsewhere it is a blank.
  extras: $ => [/[ \t\r\n\u00A0\u2009\u202F\uFEFF]/, $.comment],

  externals: $ => [$._line_end, $._stage_word],

  inline: $ => [$._any_part, $._node, $._sign, $._slip],

  supertypes: $ => [$.block],

  rules: {
    // Entries above the first heading are read as those of a stage.
    design: $ => seq(repeat($._stage_entry), repeat($.block)),

    block: $ =>
      choice(
        $.design_block,
        $.let_block,
        $.stage_block,
        $.use_block,
        $.include_block,
        $.datasheet_block,
        $.assume_block,
        $.formula_block,
        $.require_block,
      ),

    // ---- design ----

    design_block: $ => seq($.design_heading, repeat($._design_entry)),
    design_heading: $ => seq('design', repeat(choice($.string, $._anything)), $._line_end),
    _design_entry: $ =>
      seq(
        choice($.figures_entry, $.source_entry, $.tolerance_entry, $.label_entry, $.trim_entry, $.accept_entry, $.unread_entry),
        $._line_end,
      ),
    figures_entry: $ => seq(choice('band', 'reference', 'temperature', 'supply', 'matched'), repeat($._design_item)),
    source_entry: $ => seq('source', optional(seq($._design_item, repeat(choice($._design_item, $.peak))))),
    peak: _ => choice('peak', 'pp'),
    tolerance_entry: $ => seq('tolerance', repeat(choice($._design_item, $.class))),
    class: _ => choice('R', 'VR', 'C', 'L', 'U', 'SW'),
    // What is in front of a `:` is a name that is given here; without the `:` nobody knows yet.
    label_entry: $ =>
      seq(
        choice('setting', 'balanced'),
        optional(
          choice(
            seq(field('name', alias($.name, $.label)), ':', repeat(choice($._design_item, $.position))),
            seq($.name, optional(seq($._design_mark, repeat($._design_item)))),
          ),
        ),
      ),
    trim_entry: $ =>
      seq('trim', repeat(choice($._any_part, $.name)), optional(seq(':', optional($.reading), repeat($._statement_item)))),
    accept_entry: $ => seq('accept', repeat(choice($._design_item, 'for'))),
    // The word of an entry under way, or one that is none.
    unread_entry: $ => seq(choice($.name, $._any_part, $.amount, $._slip), repeat($._design_item)),
    _design_item: $ => choice(':', $._design_mark),
    _design_mark: $ =>
      choice($.amount, $._node, $._any_part, $.series, $.string, $.group, $._sign, ',', '..', '=', $.plus_minus, 'all', $._slip),

    // ---- let ----

    let_block: $ => seq($.let_heading, repeat(seq($.let_entry, $._line_end))),
    let_heading: $ => seq('let', repeat($._anything), $._line_end),
    let_entry: $ =>
      choice(
        seq(field('name', $.name), optional(seq(choice('=', $._other_than_call), repeat(choice('=', $._expression_item))))),
        seq(choice('=', $._other_than_name), repeat(choice('=', $._expression_item))),
      ),

    // ---- stage ----

    stage_block: $ => seq($.stage_heading, repeat($._stage_entry)),
    stage_heading: $ =>
      seq('stage', optional(seq(field('name', alias($.name, $.label)), repeat($._port_item))), $._line_end),
    _port_item: $ => choice($._node, $._any_part, $.arrow, ':', ',', $.string, $.amount, $._slip),
    _stage_entry: $ => seq(choice($.path, $.device), $._line_end),
    path: $ =>
      choice(
        seq($._path_item, repeat(choice($._path_item, $.element, ':'))),
        seq($.element, $._path_item, repeat(choice($._path_item, $.element, ':'))),
      ),
    _path_item: $ => choice($._node, '--', $.parallel, $.amount, $.group, $.string, $.series, $.arrow, $._sign, '=', $._slip),
    device: $ =>
      seq($.element, optional(seq(choice(':', ','), optional($.terminal), repeat(seq(choice(':', ','), optional($.terminal)))))),
    element: $ =>
      prec.right(
        choice(
          seq($.part, repeat($._attribute_item)),
          seq(
            alias($._amplifier, $.part),
            optional(
              seq(
                choice(field('type', alias(choice($.name, $._any_part, $.figure), $.type)), $._attribute_mark),
                repeat($._attribute_item),
              ),
            ),
          ),
        ),
      ),
    _attribute_item: $ => choice($._attribute_mark, $.amount, $.name),
    _attribute_mark: $ => choice($.attribute, $.rest, $.group, $.series, $.string, $.plus_minus, alias($._slip_in_figure, $.slip)),
    attribute: $ => choice(...ATTRIBUTES, $._taper),
    // Where a control stands when nobody has turned it.
    rest: $ => prec.right(seq(alias('at', $.attribute), optional($.amount))),
    terminal: $ =>
      prec.right(
        choice(
          seq(
            field('pin', alias(choice('out', 'supply', 'cw', 'wiper', 'ccw', 'pole', $._sign, $.figure), $.pin)),
            repeat($._terminal_item),
          ),
          seq($._node, repeat($._terminal_item)),
          seq(choice($._any_part, $.string, $._slip), repeat($._terminal_item)),
        ),
      ),
    _terminal_item: $ => choice($._node, $._any_part, $.amount, $.string, $._sign, $._slip),

    // ---- use, include ----

    use_block: $ => seq($.use_heading, repeat(seq($.override, $._line_end))),
    use_heading: $ =>
      seq(
        'use',
        optional(
          seq(
            field('stage', alias($.name, $.label)),
            choice(repeat($._port_item), seq('as', optional(seq(field('name', alias($.name, $.label)), repeat($._port_item))))),
          ),
        ),
        $._line_end,
      ),
    override: $ => choice(seq($.element, repeat(choice($._path_item, $.element, ':', ','))), seq($._node, repeat(choice($._path_item, $.element, ':', ',')))),

    include_block: $ => seq($.include_heading, repeat($._stage_entry)),
    include_heading: $ => seq('include', repeat(choice($.string, $._anything)), $._line_end),

    // ---- datasheet ----

    datasheet_block: $ => seq($.datasheet_heading, repeat(seq($.datum_entry, $._line_end))),
    datasheet_heading: $ =>
      seq(
        'datasheet',
        optional(seq(field('name', alias(choice($.name, $._any_part, $.figure), $.type)), repeat(choice(':', ',', alias($.name, $.datum), $.string, $._slip)))),
        $._line_end,
      ),
    datum_entry: $ => seq(alias($.name, $.datum), repeat(choice($._datum_item, alias($.name, $.datum)))),
    _datum_item: $ => choice($.amount, $.group, $._sign, ',', '..', ':', '=', $.limit_word, $.plus_minus, $.string, $._any_part, $._slip),
    limit_word: _ => choice('typ', 'min', 'max'),

    // ---- assume ----

    assume_block: $ => seq($.assume_heading, repeat(seq($.assume_entry, $._line_end))),
    assume_heading: $ => seq('assume', repeat(choice($.clause, $._anything)), $._line_end),
    assume_entry: $ => seq($._subject, repeat(choice($._subject, ',', $.neglect, $.clause, $.assume_on, $.string, $._slip))),
    _subject: $ => choice($._any_part, $._node, 'all', $.stage_subject),
    stage_subject: $ => prec.right(seq(alias($._stage_word, $.subject_word), optional(field('name', $.name)))),
    neglect: _ => choice('short', 'open', 'ideal'),
    assume_on: $ => prec.right(seq('on', optional($.reading))),

    // ---- formula, require ----

    formula_block: $ => seq($.formula_heading, repeat(seq($.formula_entry, $._line_end))),
    formula_heading: $ => seq('formula', repeat($._anything), $._line_end),
    formula_entry: $ =>
      seq($.reading, repeat(choice($.clause, $.weighting, 'on', $._slip)), optional(seq('=', repeat(choice('=', $._expression_item, $.series))))),

    require_block: $ => seq($.require_heading, repeat(seq($.require_entry, $._line_end))),
    require_heading: $ => seq('require', repeat($._anything), $._line_end),
    require_entry: $ => seq($.reading, repeat($._statement_item)),

    _statement_item: $ => choice($.clause, $.weighting, $.limit, 'on', $.string, $._slip),
    reading: $ =>
      prec.right(seq(choice(field('phrase', $.phrase), $.name), repeat(choice($._node, $._any_part, 'of', 'all', $.arrow, $._sign, ',', ':')))),
    // A phrase of several words may still lack its last.
    phrase: _ =>
      prec.right(
        choice(
          seq('gain', optional('margin')),
          seq('phase', optional('margin')),
          'transimpedance',
          'delay',
          seq(choice('low', 'high'), optional('corner')),
          'flatness',
          'impedance',
          seq('input', optional(choice('impedance', seq('noise', optional('density'))))),
          seq('output', optional('impedance')),
          'level',
          seq('clip', optional('level')),
          'headroom',
          seq('noise', optional('density')),
          'offset',
          'dc',
          seq('natural', optional('frequency')),
          'q',
          'rejection',
          'balance',
          'power',
          'voltage',
          'current',
          seq('supply', optional('current')),
          'dissipation',
        ),
      ),
    clause: $ =>
      prec.right(seq(choice('at', 'over', 'when', 'from', 'against', 'above', 'below', 'within'), repeat($._clause_item))),
    _clause_item: $ => choice($.amount, $._node, $._any_part, 'all', 'of', $.group, $.position, $._sign, ',', '..'),
    position: _ => choice('open', 'closed'),
    weighting: _ => choice('A-weighted', '468-weighted'),
    limit: $ =>
      prec.right(
        seq(choice('<', '>', '='), repeat(choice($.amount, $.group, $._node, $._any_part, $._sign, $.plus_minus, '..', ',', alias(choice('*', '/'), $.operator)))),
      ),

    // ---- expressions ----

    _expression_item: $ => choice($.name, $.call, $._other_than_name),
    _other_than_call: $ => choice($.name, $.call, $.amount, $._any_part, $.constant, $.operator, $.parallel, ',', '..', $.plus_minus, $.string, '<', '>', ':', $._slip),
    _other_than_name: $ =>
      choice($.amount, $._any_part, $.constant, $.group, $.operator, $.parallel, ',', '..', $.plus_minus, $.string, '<', '>', ':', $._slip),
    constant: _ => choice('pi', 's', 'f', 'w'),
    call: $ => prec(1, seq(field('name', alias($.name, $.function)), $.group)),
    // Without its closing mark it ends where the line's structure goes on.
    group: $ => prec.right(seq('(', repeat($._expression_item), optional(')'))),
    operator: $ => choice($._sign, '*', '/', '^', '×', '·'),

    // ---- words ----

    _node: $ => choice($.ground, $.name),
    _any_part: $ => choice($.part, alias($._amplifier, $.part)),
    ground: _ => 'gnd',
    amount: $ => prec.right(seq($.figure, optional($.unit))),
    _sign: _ => choice('+', '-', '−'),
    arrow: _ => choice('->', '→'),
    parallel: _ => choice('||', '∥'),
    plus_minus: _ => choice('±', '+/-'),
    // Behind the word of a heading that wants nothing more.
    _anything: $ => choice($.name, $._any_part, $.amount, ':', ',', $._slip),
    _slip: $ => choice($.slip, alias($._slip_in_figure, $.slip)),

    comment: _ => /#[^\r\n]*/,
    // Without its closing mark it goes to the line's end.
    string: _ => /"[^"\r\n]*"?/,
    figure: _ => new RegExp(`[0-9]+(\\.[0-9]+)?(e[+\\-−]?[0-9]+)?[A-Za-z0-9_µ\\u03BCΩ\\u2126]*([VA]${TAIL})?`),
    unit: _ =>
      new RegExp(`%|dB[uV]?|deg|degC|°C?|${PREFIX}[VA](${TAIL})?|${PREFIX}(W|ohm|Ω|\\u2126|F|H|Hz|s)`),
    series: _ => /E(3|6|12|24|48|96|192)/,
    // Behind an amplifier stands its type, and `E24` is a series: they are kept out of the pattern of the others, since where two patterns
    // read the same word tree-sitter's choice hangs on more than their order.
    _amplifier: _ => new RegExp(`${COPY}U[0-9]+[a-z]?`),
    part: _ => new RegExp(`${COPY}([A-DF-TV-Z]|[A-Z][A-Z])[0-9]+[a-z]?`),
    _taper: _ => /(rev)?log[1-4]?[0-9]/,
    name: _ => new RegExp(`${NAME}(\\.${NAME})*`),
    // What looks like a mark of the notation and is none.
    slip: _ =>
      token(choice(
        /---+>?|-->|[–—―]+>?|−−+>?/,
        /\.\.\.+|…|<=|>=|=<|=>|==+|≤|≥|⩽|⩾|\*\*|\||‖|\|\|\|+|÷|~|≈|@|;/,
        /[{}\[\]‘’'`]/,
        /[“”„][^“”„"\r\n#]*[“”"]/,
      )),
    _slip_in_figure: _ => token(choice('+-', /([0-9]+,|\.)[0-9]+[A-Za-z0-9µ\u03BCΩ\u2126]*/)),
  },
});
