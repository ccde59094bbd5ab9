//! All mutants in one source, each behind its number.

use crate::{number, text};
use proc_macro2::Span;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::{fmt::Write, fs, io, ops::Range, path::Path, process::Command};
use syn::{spanned::Spanned, visit, visit::Visit};

/// Which mutant is on, by the environment; which places were come by is appended to a file, if asked for.
const MODULE: &str = r#"
mod mutant {
    use std::{fs::File, io::Write, sync::{LazyLock, atomic::{AtomicBool, Ordering::Relaxed}}};
    static ON: LazyLock<usize> = LazyLock::new(|| std::env::var("MUTANT").map_or(0, |on| on.parse().unwrap_or(0)));
    static SEEN: [AtomicBool; 20_000] = [const { AtomicBool::new(false) }; 20_000];
    static CAME_BY: LazyLock<Option<File>> = LazyLock::new(|| {
        let path = std::env::var_os("MUTANTS_CAME_BY")?;
        File::options().create(true).append(true).open(path).ok()
    });
    pub(crate) fn on(place: usize) -> usize {
        if let Some(mut file) = CAME_BY.as_ref() && !SEEN[place].load(Relaxed) && !SEEN[place].swap(true, Relaxed) {
            let _ = file.write_all(format!("{place}\n").as_bytes());
        }
        *ON
    }
}
"#;

type At = (usize, usize);

/// A place where something is switched. Its number is that of its first mutant.
struct Place<'a> {
    range: Range<usize>,
    what: What,
    /// Number and replacement of each mutant that is left.
    mutants: Vec<(usize, &'a str)>,
}

impl Place<'_> {
    fn number(&self) -> usize {
        self.mutants.first().map_or(0, |&(id, _)| id)
    }
}

enum What {
    /// A function, by its name, that need not be constant.
    Const(String),
    /// Put in front of the body of a function.
    Body,
    /// The body itself, where the type has no name but these traits.
    Hidden(String),
    /// Operands, and the operator.
    Binary(Range<usize>, Range<usize>, String),
    Unary(Range<usize>, String),
    /// A guard, or none yet: of an arm that may be deleted, true or false.
    Guard,
    /// A field of a struct: what its name takes in front, and the same field of the base.
    Field(String, String),
}

/// Switches the mutants in, and gives each its number, its place and whether it compiles.
pub fn switch(mutants: &mut [Value], tree: &Path) -> io::Result<()> {
    let mut files: BTreeMap<String, String> = BTreeMap::new();
    for mutant in mutants.iter() {
        let file = text(mutant, "/file");
        if !files.contains_key(file) {
            files.insert(file.into(), fs::read_to_string(tree.join(file))?);
        }
    }
    let root = "crates/lengthwise/src/lib.rs";
    let lib = fs::read_to_string(tree.join(root))?;
    fs::write(tree.join(root), lib + MODULE)?;
    let mut dropped: BTreeMap<usize, String> = BTreeMap::new();
    let mut place_of: HashMap<usize, usize> = HashMap::new();
    let mut constant = BTreeSet::new();
    loop {
        let mut units = HashMap::new();
        let mut freed = BTreeSet::new();
        for (file, source) in &files {
            let places = places(source, file, mutants, &dropped, &constant)?;
            for place in &places {
                place_of.extend(
                    place
                        .mutants
                        .iter()
                        .map(|&(id, _)| (id, place.mutants[0].0)),
                );
            }
            freed.extend(places.iter().filter_map(|place| match &place.what {
                What::Const(name) => Some(name.clone()),
                _ => None,
            }));
            let mut switched = render(source, &places, 0, 0..source.len());
            if file == root {
                switched += MODULE;
            }
            fs::write(tree.join(file), &switched)?;
            units.insert(file.clone(), (marked(&switched), places));
        }
        let before = dropped.len() + constant.len();
        for Wrong { spans, why } in errors(tree)? {
            // Functions stay constant where a constant needs them.
            let called = why
                .split('`')
                .nth(1)
                .and_then(|name| name.rsplit("::").next());
            if let Some(name) =
                called.filter(|name| why.starts_with("E0015") && freed.contains(*name))
            {
                constant.insert(name.to_owned());
                continue;
            }
            // What is at fault may be beside the mutant that made it so.
            let mut found = None;
            for (file, range) in &spans {
                let Some((marked, places)) = units.get(file) else {
                    continue;
                };
                let around = marked
                    .iter()
                    .filter(|(unit, _)| unit.start <= range.start && range.end <= unit.end);
                found = around
                    .min_by_key(|(unit, _)| unit.len())
                    .map(|(_, unit)| (unit, places));
                if found.is_some() {
                    break;
                }
            }
            if !spans.iter().any(|(file, _)| units.contains_key(file)) {
                return Err(io::Error::other(format!("{spans:?}: {why}")));
            }
            match found {
                Some((Unit::Mutant(id), _)) => drop(dropped.insert(*id, why)),
                Some((Unit::Place(at), places)) => {
                    let place = places.iter().find(|place| place.number() == *at);
                    for (id, _) in place.into_iter().flat_map(|place| &place.mutants) {
                        dropped.insert(*id, format!("place: {why}"));
                    }
                }
                None => eprintln!("{spans:?}: {why}"),
            }
        }
        eprintln!("{} mutants, {} left out", mutants.len(), dropped.len());
        if dropped.len() + constant.len() == before {
            break;
        }
    }
    for (index, mutant) in mutants.iter_mut().enumerate() {
        let id = index + 1;
        mutant["id"] = json!(id);
        match (dropped.get(&id), place_of.get(&id)) {
            (Some(why), _) => mutant["left_out"] = json!(why),
            (None, Some(place)) => mutant["place"] = json!(place),
            (None, None) => mutant["left_out"] = json!("place: not found"),
        }
    }
    Ok(())
}

/// The places in a file that have mutants left, outer ones before inner ones.
fn places<'a>(
    source: &str,
    file: &str,
    mutants: &'a [Value],
    dropped: &BTreeMap<usize, String>,
    constant: &BTreeSet<String>,
) -> io::Result<Vec<Place<'a>>> {
    let mut wanted: BTreeMap<(At, &str), Vec<(usize, &str)>> = BTreeMap::new();
    for (index, mutant) in mutants.iter().enumerate() {
        if text(mutant, "/file") == file && !dropped.contains_key(&(index + 1)) {
            let at = (
                number(mutant, "/span/start/line"),
                number(mutant, "/span/start/column"),
            );
            let wanted = wanted.entry((at, text(mutant, "/genre"))).or_default();
            wanted.push((index + 1, text(mutant, "/replacement")));
        }
    }
    let parsed = syn::parse_file(source).map_err(io::Error::other)?;
    let mut finder = Finder {
        source,
        wanted,
        constant,
        found: Vec::new(),
    };
    finder.visit_file(&parsed);
    let mut found = finder.found;
    found.sort_by_key(|place| {
        let Range { start, end } = place.range;
        (start, start != end, usize::MAX - end)
    });
    Ok(found)
}

struct Finder<'a, 's> {
    source: &'s str,
    constant: &'s BTreeSet<String>,
    wanted: BTreeMap<(At, &'a str), Vec<(usize, &'a str)>>,
    found: Vec<Place<'a>>,
}

impl<'a> Finder<'a, '_> {
    fn add(&mut self, at: Span, genre: &'static str, range: Range<usize>, what: What) {
        let start = at.start();
        let key = ((start.line, start.column + 1), genre);
        if let Some(mutants) = self.wanted.remove(&key) {
            self.found.push(Place {
                range,
                what,
                mutants,
            });
        }
    }

    fn body(&mut self, signature: &syn::Signature, block: &syn::Block) {
        if let Some(word) = signature.constness
            && !self.constant.contains(&signature.ident.to_string())
        {
            let (range, what) = (
                word.span.byte_range(),
                What::Const(signature.ident.to_string()),
            );
            self.found.push(Place {
                range,
                what,
                mutants: Vec::new(),
            });
        }
        let (Some(first), Some(last)) = (block.stmts.first(), block.stmts.last()) else {
            return;
        };
        let (start, end) = (
            first.span().byte_range().start,
            last.span().byte_range().end,
        );
        if let syn::ReturnType::Type(_, out) = &signature.output
            && let syn::Type::ImplTrait(hidden) = &**out
        {
            let bounds = self.source[hidden.bounds.span().byte_range()].to_owned();
            self.add(first.span(), "FnValue", start..end, What::Hidden(bounds));
        } else {
            self.add(first.span(), "FnValue", start..start, What::Body);
        }
    }
}

impl<'ast> Visit<'ast> for Finder<'_, '_> {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.body(&item.sig, &item.block);
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.body(&item.sig, &item.block);
        visit::visit_impl_item_fn(self, item);
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        item.default
            .iter()
            .for_each(|block| self.body(&item.sig, block));
        visit::visit_trait_item_fn(self, item);
    }

    fn visit_expr_binary(&mut self, expr: &'ast syn::ExprBinary) {
        let (left, right, op) = (expr.left.span(), expr.right.span(), expr.op.span());
        let written = self.source[op.byte_range()].to_owned();
        let what = What::Binary(left.byte_range(), right.byte_range(), written);
        // A chain with `let` in it has no other form.
        if !has_let(expr) {
            self.add(op, "BinaryOperator", expr.span().byte_range(), what);
        }
        visit::visit_expr_binary(self, expr);
    }

    fn visit_expr_unary(&mut self, expr: &'ast syn::ExprUnary) {
        let op = self.source[expr.op.span().byte_range()].to_owned();
        let what = What::Unary(expr.expr.span().byte_range(), op);
        self.add(
            expr.op.span(),
            "UnaryOperator",
            expr.span().byte_range(),
            what,
        );
        visit::visit_expr_unary(self, expr);
    }

    fn visit_arm(&mut self, arm: &'ast syn::Arm) {
        let end = arm.pat.span().byte_range().end;
        if let Some((_, guard)) = &arm.guard {
            let range = guard.span().byte_range();
            self.add(guard.span(), "MatchArmGuard", range.clone(), What::Guard);
            self.add(arm.span(), "MatchArm", range, What::Guard);
        } else if !is_catch_all(&arm.pat) {
            self.add(arm.span(), "MatchArm", end..end, What::Guard);
        }
        visit::visit_arm(self, arm);
    }

    fn visit_expr_struct(&mut self, expr: &'ast syn::ExprStruct) {
        for field in &expr.fields {
            let Some(rest) = &expr.rest else { break };
            let name = self.source[field.member.span().byte_range()].to_owned();
            let base = &self.source[rest.span().byte_range()];
            let of_base = if matches!(**rest, syn::Expr::Path(_)) {
                format!("{base}.{name}")
            } else {
                let path = &self.source[expr.path.span().byte_range()];
                format!("{{ let base: {path} = {base}; base.{name} }}")
            };
            let front = field
                .colon_token
                .map_or(format!("{name}: "), |_| String::new());
            let range = field.expr.span().byte_range();
            self.add(
                field.span(),
                "StructField",
                range,
                What::Field(front, of_base),
            );
        }
        visit::visit_expr_struct(self, expr);
    }
}

/// A name that is no constant, so that nothing would be matched without it.
fn is_catch_all(pattern: &syn::Pat) -> bool {
    let syn::Pat::Ident(name) = pattern else {
        return false;
    };
    name.ident
        .to_string()
        .starts_with(|first: char| first.is_lowercase())
}

fn has_let(expr: &syn::ExprBinary) -> bool {
    [&expr.left, &expr.right]
        .into_iter()
        .any(|side| match &**side {
            syn::Expr::Let(_) => true,
            syn::Expr::Binary(inner) => has_let(inner),
            _ => false,
        })
}

/// A part of the source with what stands in it switched, from a place on.
fn render(source: &str, places: &[Place], from: usize, range: Range<usize>) -> String {
    let (mut out, mut at) = (String::new(), range.start);
    for (index, place) in places.iter().enumerate().skip(from) {
        if place.range.start >= at && place.range.end <= range.end {
            out += &source[at..place.range.start];
            out += &one(source, places, index);
            at = place.range.end;
        }
    }
    out + &source[at..range.end]
}

/// One place. Comments mark it and its mutants, so that what does not compile is found again.
fn one(source: &str, places: &[Place], index: usize) -> String {
    let place = &places[index];
    let inner = |range: &Range<usize>| render(source, places, index + 1, range.clone());
    let number = place.number();
    let on = format!("crate::mutant::on({number})");
    let arms = |write: &dyn Fn(&str) -> String| {
        place
            .mutants
            .iter()
            .fold(String::new(), |mut arms, (id, replacement)| {
                let _ = write!(arms, "{id} => {{/*[{id}*/{}/*]*/}} ", write(replacement));
                arms
            })
    };
    let written = match &place.what {
        What::Const(_) => return String::new(),
        What::Body => {
            let arms = arms(&|value| format!("return {value};"));
            format!("match {on} {{ {arms} _ => {{}} }}")
        }
        What::Hidden(bounds) => {
            let arms = arms(&|value| format!("Box::new({value})"));
            let body = inner(&place.range);
            format!(
                "let boxed_: Box<dyn {bounds} + '_> = match {on} {{ {arms} _ => Box::new({{ {body} }}) }}; boxed_"
            )
        }
        What::Binary(left, right, op) => {
            let (left, right) = (inner(left), inner(right));
            match op.as_str() {
                // The right side may not be looked at.
                "&&" | "||" => {
                    let (id, _) = place.mutants[0];
                    let same = if op == "&&" { "!=" } else { "==" };
                    format!(
                        "(match {left} {{ l_ => if l_ {same} ({on} == {id}) {{ {right} }} else {{ l_ }} }})"
                    )
                }
                // The right side comes first, as the language has it.
                "+=" | "-=" | "*=" | "/=" | "%=" => {
                    let arms = arms(&|op| format!("*l_ {op} r_"));
                    format!(
                        "match {right} {{ r_ => {{ let l_ = &mut {left}; match {on} {{ {arms} _ => *l_ {op} r_ }} }} }}"
                    )
                }
                "==" | "!=" | "<" | ">" | "<=" | ">=" => {
                    let arms = arms(&|op| format!("*l_ {op} *r_"));
                    format!(
                        "(match (&({left}), &({right})) {{ (l_, r_) => match {on} {{ {arms} _ => *l_ {op} *r_ }} }})"
                    )
                }
                _ => {
                    let arms = arms(&|op| format!("l_ {op} r_"));
                    format!(
                        "(match ({left}, {right}) {{ (l_, r_) => match {on} {{ {arms} _ => l_ {op} r_ }} }})"
                    )
                }
            }
        }
        What::Unary(operand, op) => {
            let arms = arms(&|_| "v_".into());
            format!(
                "(match {} {{ v_ => match {on} {{ {arms} _ => {op}v_ }} }})",
                inner(operand)
            )
        }
        What::Guard => {
            let arms = arms(&|value| {
                if value == "true" {
                    "true".into()
                } else {
                    "false".into()
                }
            });
            let (front, rest) = match place.range.is_empty() {
                true => (" if ", "true".into()),
                false => ("", inner(&place.range)),
            };
            format!("{front}(match {on} {{ {arms} _ => {rest} }})")
        }
        What::Field(front, base) => {
            let arms = arms(&|_| base.clone());
            format!(
                "{front}(match {on} {{ {arms} _ => {} }})",
                inner(&place.range)
            )
        }
    };
    format!("/*[p{number}*/{written}/*]*/")
}

enum Unit {
    Place(usize),
    Mutant(usize),
}

/// The bytes between the marks.
fn marked(source: &str) -> Vec<(Range<usize>, Unit)> {
    let (mut open, mut units, mut at) = (Vec::new(), Vec::new(), 0);
    while let Some(found) = source[at..]
        .find("/*[")
        .into_iter()
        .chain(source[at..].find("/*]*/"))
        .min()
    {
        let start = at + found;
        at = start + source[start..].find("*/").map_or(5, |end| end + 2);
        let name = &source[start + 3..at - 2];
        if let Ok(id) = name.parse() {
            open.push((start, Unit::Mutant(id)));
        } else if let Some(place) = name.strip_prefix('p').and_then(|place| place.parse().ok()) {
            open.push((start, Unit::Place(place)));
        } else if let Some((start, unit)) = open.pop() {
            units.push((start..at, unit));
        }
    }
    units
}

/// An error: where, what is at fault first, and why.
struct Wrong {
    spans: Vec<(String, Range<usize>)>,
    why: String,
}

/// What the compiler says.
fn errors(tree: &Path) -> io::Result<Vec<Wrong>> {
    let check = [
        "check",
        "-p",
        "lengthwise",
        "--lib",
        "--message-format=json",
    ];
    let out = Command::new("cargo")
        .args(check)
        .current_dir(tree)
        .output()?;
    let mut errors = Vec::new();
    for line in String::from_utf8_lossy(&out.stdout).lines() {
        let Ok(message) = serde_json::from_str::<Value>(line) else {
            continue;
        };
        if text(&message, "/message/level") != "error" {
            continue;
        }
        let spans = message.pointer("/message/spans").and_then(Value::as_array);
        let mut spans: Vec<&Value> = spans.into_iter().flatten().collect();
        spans.sort_by_key(|span| span["is_primary"] != true);
        let spans = spans.into_iter().map(|mut span| {
            // Where a macro is at fault, what was written is what counts.
            while let Some(outer) = span.pointer("/expansion/span") {
                span = outer;
            }
            let bytes = number(span, "/byte_start")..number(span, "/byte_end");
            (text(span, "/file_name").to_owned(), bytes)
        });
        let why = [
            text(&message, "/message/code/code"),
            text(&message, "/message/message"),
        ];
        let (spans, why) = (spans.collect::<Vec<_>>(), why.join(" "));
        if !spans.is_empty() {
            errors.push(Wrong { spans, why });
        }
    }
    Ok(errors)
}
