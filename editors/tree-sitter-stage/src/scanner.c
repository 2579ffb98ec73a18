// Ends of lines, and the one word that means two things by what stands behind it.
//
// A line's end closes a heading or an entry, unless the next line continues it: then it is a blank. The end of the file closes as well.
// A scanner without memory: what it finds hangs on the text at its place alone.

#include "tree_sitter/parser.h"

enum Token { LINE_END, STAGE_WORD };

// Comment lines looked through for a line that continues; so many and more are a chapter and not a remark.
#define COMMENT_LINES 100

void *tree_sitter_stage_external_scanner_create(void) { return NULL; }
void tree_sitter_stage_external_scanner_destroy(void *payload) { (void)payload; }

unsigned tree_sitter_stage_external_scanner_serialize(void *payload, char *buffer) {
  (void)payload;
  (void)buffer;
  return 0;
}

void tree_sitter_stage_external_scanner_deserialize(void *payload, const char *buffer, unsigned length) {
  (void)payload;
  (void)buffer;
  (void)length;
}

static bool is_blank(int32_t c) {
  return c == ' ' || c == '\t' || c == '\r' || c == 0xA0 || c == 0x2009 || c == 0x202F || c == 0xFEFF;
}

static bool is_word(int32_t c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '.' || c > 0xA0;
}

// Whether the line at which the lexer stands continues the one above it, comment lines in between left aside.
static bool continues(TSLexer *lexer) {
  for (int line = 0; line < COMMENT_LINES; line++) {
    while (is_blank(lexer->lookahead)) lexer->advance(lexer, false);
    switch (lexer->lookahead) {
      case '#':
        while (lexer->lookahead != '\n' && !lexer->eof(lexer)) lexer->advance(lexer, false);
        if (lexer->eof(lexer)) return false;
        lexer->advance(lexer, false);
        continue;
      case ',':
      case 0x2225:  // ∥
      case 0x2013:  // en dash
      case 0x2014:  // em dash
        return true;
      case '-':
        lexer->advance(lexer, false);
        return lexer->lookahead == '-';
      case '|':
        lexer->advance(lexer, false);
        return lexer->lookahead == '|';
      default:
        return false;
    }
  }
  return false;
}

// The word `stage` at which the lexer stands, as the subject of an assumption.
static bool stage_word(TSLexer *lexer, bool in_front) {
  for (const char *letter = "stage"; *letter; letter++) {
    if (lexer->lookahead != *letter) return false;
    lexer->advance(lexer, false);
  }
  if (is_word(lexer->lookahead)) return false;
  lexer->mark_end(lexer);
  // In front of the line it is a heading's if ports are behind it.
  while (in_front && lexer->lookahead != '\n' && lexer->lookahead != '#' && !lexer->eof(lexer)) {
    if (lexer->lookahead == ':') return false;
    lexer->advance(lexer, false);
  }
  lexer->result_symbol = STAGE_WORD;
  return true;
}

bool tree_sitter_stage_external_scanner_scan(void *payload, TSLexer *lexer, const bool *valid_symbols) {
  (void)payload;
  if (valid_symbols[LINE_END]) {
    while (is_blank(lexer->lookahead)) lexer->advance(lexer, true);
    if (lexer->eof(lexer)) {
      lexer->mark_end(lexer);
      lexer->result_symbol = LINE_END;
      return true;
    }
    if (lexer->lookahead == '\n') {
      lexer->advance(lexer, false);
      lexer->mark_end(lexer);
      lexer->result_symbol = LINE_END;
      return !continues(lexer);
    }
    return valid_symbols[STAGE_WORD] && stage_word(lexer, false);
  }
  if (!valid_symbols[STAGE_WORD]) return false;
  bool indented = false;
  while (is_blank(lexer->lookahead) || lexer->lookahead == '\n') {
    indented = lexer->lookahead != '\n' && lexer->lookahead != '\r' && lexer->lookahead != 0xFEFF;
    lexer->advance(lexer, true);
  }
  return indented && stage_word(lexer, true);
}
