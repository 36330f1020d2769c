//! No two modules of one crate use each other, directly or round about.
//!
//! The sources are parsed, and every path in them is followed to the file that defines what it names: `use` with its
//! renames, globs and re-exports, paths in code, and paths among the tokens of macros. A file that declares its children
//! and re-exports their items does not use them by that. What is under `cfg(test)` does not count, nor does what only
//! types could tell: a method that another file adds to a type.

use std::collections::{BTreeMap, BTreeSet};

use syn::buffer::{Cursor, TokenBuffer};
use syn::visit::{self, Visit};

use super::files;

/// A crate's sources: paths below `src`, such as `journal/kept.rs`, with their text.
type Sources = BTreeMap<String, String>;

/// A module's path within its crate; the root is empty.
type Module = Vec<String>;

/// What a name leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Target {
    Module(Module),
    /// Something that stands in this module.
    Item(Module),
}

/// A `use`, one name of it.
#[derive(Clone, Debug)]
struct Import {
    path: Vec<String>,
    /// The name that it is known by here; none for a glob.
    name: Option<String>,
    public: bool,
}

/// One module as it was read.
#[derive(Default)]
struct Scope {
    /// The module whose file it stands in: an inline module's is that of the file around it.
    file: Module,
    items: BTreeSet<String>,
    children: BTreeSet<String>,
    imports: Vec<Import>,
    /// Paths in its code.
    paths: Vec<Vec<String>>,
}

/// A crate as it was read.
#[derive(Default)]
struct Tree {
    scopes: BTreeMap<Module, Scope>,
}

/// Who uses whom, with the names that tie them.
type Arrows = BTreeMap<(Module, Module), BTreeSet<String>>;

impl Tree {
    fn read(sources: &Sources, root: &str) -> Self {
        let mut tree = Self::default();
        tree.file(sources, root, Vec::new());
        tree
    }

    fn file(&mut self, sources: &Sources, name: &str, module: Module) {
        let parsed = syn::parse_file(&sources[name]).unwrap_or_else(|error| panic!("{name}: {error}"));
        self.items(sources, &parsed.items, &module, &module);
    }

    fn items(&mut self, sources: &Sources, items: &[syn::Item], module: &Module, file: &Module) {
        let mut reader = Reader { scope: Scope { file: file.clone(), ..Scope::default() } };
        let mut inner = Vec::new();
        for item in items {
            match item {
                syn::Item::Mod(child) if for_tests(&child.attrs) => {}
                syn::Item::Mod(child) => {
                    reader.scope.children.insert(child.ident.to_string());
                    inner.push(child);
                }
                other => {
                    if !attributes(other).is_some_and(for_tests) {
                        reader.scope.items.extend(defined(other));
                        reader.visit_item(other);
                    }
                }
            }
        }
        self.scopes.insert(module.clone(), reader.scope);
        for child in inner {
            let mut path = module.clone();
            path.push(child.ident.to_string());
            match &child.content {
                Some((_, items)) => self.items(sources, items, &path, file),
                None => {
                    let places = [format!("{}.rs", path.join("/")), format!("{}/mod.rs", path.join("/"))];
                    let found = places.iter().find(|place| sources.contains_key(*place));
                    let found = found.unwrap_or_else(|| panic!("no file for the module {}", path.join("::")));
                    self.file(sources, found, path);
                }
            }
        }
    }

    /// Everything that a path may lead to from a module. A name may be a module and something else too.
    fn follow(&self, from: &Module, path: &[String], seen: &mut BTreeSet<(Module, String)>) -> Vec<Target> {
        let mut at = from.clone();
        let mut rest = path;
        while let [first, more @ ..] = rest {
            match first.as_str() {
                "crate" => at.clear(),
                "self" => {}
                "super" => {
                    at.pop();
                }
                _ => break,
            }
            rest = more;
        }
        let [name, more @ ..] = rest else { return vec![Target::Module(at)] };
        let found = self.look_up(&at, name, seen);
        if more.is_empty() {
            return found;
        }
        let modules: Vec<Target> = found
            .iter()
            .filter_map(|target| match target {
                Target::Module(module) => Some(self.follow(module, more, seen)),
                Target::Item(_) => None,
            })
            .flatten()
            .collect();
        // Otherwise what follows is a part of the item: a variant, a function of a type.
        if modules.is_empty() {
            found.into_iter().filter(|target| matches!(target, Target::Item(_))).collect()
        } else {
            modules
        }
    }

    fn look_up(&self, module: &Module, name: &str, seen: &mut BTreeSet<(Module, String)>) -> Vec<Target> {
        // Globs may lead back.
        if !seen.insert((module.clone(), name.to_owned())) {
            return Vec::new();
        }
        let Some(scope) = self.scopes.get(module) else { return Vec::new() };
        let mut found = Vec::new();
        if scope.children.contains(name) {
            let mut child = module.clone();
            child.push(name.to_owned());
            found.push(Target::Module(child));
        }
        if scope.items.contains(name) {
            found.push(Target::Item(module.clone()));
        }
        for import in &scope.imports {
            if import.name.as_deref() == Some(name) {
                found.extend(self.follow(module, &import.path, seen));
            }
        }
        if found.is_empty() {
            for import in scope.imports.iter().filter(|import| import.name.is_none()) {
                for target in self.follow(module, &import.path, seen) {
                    if let Target::Module(of) = target {
                        found.extend(self.look_up(&of, name, seen));
                    }
                }
            }
        }
        seen.remove(&(module.clone(), name.to_owned()));
        found
    }

    fn arrows(&self) -> Arrows {
        let mut arrows = Arrows::new();
        for (module, scope) in &self.scopes {
            let mut tie = |path: &[String], facade: bool| {
                for target in self.follow(module, path, &mut BTreeSet::new()) {
                    let to = match &target {
                        Target::Item(to) => self.file_of(to),
                        // Naming a module around one's own uses nothing of it yet.
                        Target::Module(to) if module.starts_with(to) => continue,
                        Target::Module(to) => self.file_of(to),
                    };
                    let within = to.len() > scope.file.len() && to.starts_with(&scope.file);
                    let names_a_child = matches!(target, Target::Module(_)) && within;
                    if to != scope.file && !(within && facade) && !names_a_child {
                        let name = path.join("::");
                        arrows.entry((scope.file.clone(), to)).or_default().insert(name);
                    }
                }
            };
            // What comes by a glob ties where it is named.
            for import in scope.imports.iter().filter(|import| import.name.is_some()) {
                tie(&import.path, import.public);
            }
            // A name that was imported is tied by its import; by a re-export only where it is used here too.
            let imported = |name: &str| {
                scope.imports.iter().any(|import| !import.public && import.name.as_deref() == Some(name))
            };
            for path in scope.paths.iter().filter(|path| path.len() > 1 || !imported(&path[0])) {
                tie(path, false);
            }
        }
        arrows
    }

    fn file_of(&self, module: &Module) -> Module {
        self.scopes[module].file.clone()
    }
}

/// The circles among arrows: each with the arrows that tie it.
fn circles(arrows: &Arrows) -> Vec<Vec<String>> {
    let reach = |from: &Module| {
        let (mut seen, mut next) = (BTreeSet::new(), vec![from]);
        while let Some(at) = next.pop() {
            for (_, to) in arrows.keys().filter(|(from, _)| from == at) {
                if seen.insert(to) {
                    next.push(to);
                }
            }
        }
        seen
    };
    let modules: BTreeSet<&Module> = arrows.keys().map(|(from, _)| from).collect();
    let reached: BTreeMap<&Module, BTreeSet<&Module>> =
        modules.iter().map(|module| (*module, reach(module))).collect();
    let both = |a: &Module, b: &Module| {
        let goes = |from: &Module, to: &Module| reached.get(from).is_some_and(|reached| reached.contains(to));
        goes(a, b) && goes(b, a)
    };
    let mut told = BTreeSet::new();
    let mut found = Vec::new();
    for module in &modules {
        if told.contains(*module) || !both(module, module) {
            continue;
        }
        let circle: BTreeSet<&Module> = modules.iter().copied().filter(|other| both(module, other)).collect();
        told.extend(circle.iter().map(|module| (*module).clone()));
        let ties = arrows.iter().filter(|((from, to), _)| circle.contains(from) && circle.contains(to));
        let name =
            |module: &Module| if module.is_empty() { "the root".to_owned() } else { module.join("::") };
        found.push(
            ties.map(|((from, to), names)| {
                let names: Vec<&str> = names.iter().map(String::as_str).collect();
                format!("{} -> {}: {}", name(from), name(to), names.join(", "))
            })
            .collect(),
        );
    }
    found
}

fn for_tests(attributes: &[syn::Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("test")
            || attribute.path().is_ident("cfg")
                && attribute.meta.require_list().is_ok_and(|list| {
                    paths_of(TokenBuffer::new2(list.tokens.clone()).begin())
                        .iter()
                        .any(|path| path[..] == ["test"])
                })
    })
}

fn attributes(item: &syn::Item) -> Option<&[syn::Attribute]> {
    use syn::Item;
    Some(match item {
        Item::Const(item) => &item.attrs,
        Item::Enum(item) => &item.attrs,
        Item::Fn(item) => &item.attrs,
        Item::Impl(item) => &item.attrs,
        Item::Macro(item) => &item.attrs,
        Item::Static(item) => &item.attrs,
        Item::Struct(item) => &item.attrs,
        Item::Trait(item) => &item.attrs,
        Item::Type(item) => &item.attrs,
        Item::Use(item) => &item.attrs,
        _ => return None,
    })
}

/// The names that an item brings into its module.
fn defined(item: &syn::Item) -> Vec<String> {
    use syn::Item;
    let ident = match item {
        Item::Const(item) => &item.ident,
        Item::Enum(item) => &item.ident,
        Item::Fn(item) => &item.sig.ident,
        Item::Static(item) => &item.ident,
        Item::Struct(item) => &item.ident,
        Item::Trait(item) => &item.ident,
        Item::TraitAlias(item) => &item.ident,
        Item::Type(item) => &item.ident,
        Item::Union(item) => &item.ident,
        Item::Macro(item) => {
            // The tables that Diesel's macro declares are modules of their name.
            let named = item.ident.as_ref().map(ToString::to_string);
            let tokens = TokenBuffer::new2(item.mac.tokens.clone());
            let table = item.mac.path.segments.last().is_some_and(|last| last.ident == "table");
            let first = || paths_of(tokens.begin()).into_iter().flatten().next();
            let made = if named.is_none() { types_among(tokens.begin()) } else { Vec::new() };
            return named.into_iter().chain(table.then(first).flatten()).chain(made).collect();
        }
        _ => return Vec::new(),
    };
    vec![ident.to_string()]
}

/// The types that a macro makes, taken to be all that it is given by name: words that begin with a capital, outside
/// every group.
fn types_among(mut at: Cursor<'_>) -> Vec<String> {
    let mut found = Vec::new();
    while let Some((_, next)) = at.token_tree() {
        found.extend(at.ident().map(|(word, _)| word.to_string()));
        at = next;
    }
    found.retain(|word| word.starts_with(char::is_uppercase));
    found
}

/// The paths among tokens: words joined by `::`, within groups too.
fn paths_of(mut at: Cursor<'_>) -> Vec<Vec<String>> {
    let mut found: Vec<Vec<String>> = Vec::new();
    let (mut joined, mut colons) = (false, 0);
    while !at.eof() {
        if let Some((word, next)) = at.ident() {
            match found.last_mut() {
                Some(path) if joined && colons == 2 => path.push(word.to_string()),
                _ => found.push(vec![word.to_string()]),
            }
            (joined, colons, at) = (true, 0, next);
        } else if let Some((mark, next)) = at.punct() {
            colons = if mark.as_char() == ':' { colons + 1 } else { 0 };
            joined &= colons > 0;
            at = next;
        } else if let Some((inside, _, _, next)) = at.any_group() {
            found.extend(paths_of(inside));
            (joined, colons, at) = (false, 0, next);
        } else {
            let Some((_, next)) = at.token_tree() else { break };
            (joined, colons, at) = (false, 0, next);
        }
    }
    found
}

/// Reads the imports and the paths of one module.
struct Reader {
    scope: Scope,
}

impl Reader {
    fn import(&mut self, tree: &syn::UseTree, before: &[String], public: bool) {
        let with = |name: &syn::Ident| {
            let mut path = before.to_vec();
            path.push(name.to_string());
            path
        };
        match tree {
            syn::UseTree::Path(part) => self.import(&part.tree, &with(&part.ident), public),
            syn::UseTree::Group(group) => {
                group.items.iter().for_each(|tree| self.import(tree, before, public))
            }
            syn::UseTree::Name(name) if name.ident == "self" => {
                let known = before.last().cloned();
                self.scope.imports.push(Import { path: before.to_vec(), name: known, public });
            }
            syn::UseTree::Name(name) => {
                let known = Some(name.ident.to_string());
                self.scope.imports.push(Import { path: with(&name.ident), name: known, public });
            }
            syn::UseTree::Rename(rename) => {
                let path = if rename.ident == "self" { before.to_vec() } else { with(&rename.ident) };
                self.scope.imports.push(Import { path, name: Some(rename.rename.to_string()), public });
            }
            syn::UseTree::Glob(_) => {
                self.scope.imports.push(Import { path: before.to_vec(), name: None, public });
            }
        }
    }

    fn tokens(&mut self, buffer: &TokenBuffer) {
        // A single word among tokens may be anything.
        self.scope.paths.extend(paths_of(buffer.begin()).into_iter().filter(|path| path.len() > 1));
    }
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        // A path that begins with `::` leads out of the crate.
        if item.leading_colon.is_none() && !for_tests(&item.attrs) {
            let public = !matches!(item.vis, syn::Visibility::Inherited);
            self.import(&item.tree, &[], public);
        }
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        if path.leading_colon.is_none() {
            self.scope.paths.push(path.segments.iter().map(|part| part.ident.to_string()).collect());
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.visit_path(&mac.path);
        self.tokens(&TokenBuffer::new2(mac.tokens.clone()));
    }

    fn visit_attribute(&mut self, attribute: &'ast syn::Attribute) {
        if let Ok(list) = attribute.meta.require_list() {
            self.tokens(&TokenBuffer::new2(list.tokens.clone()));
        }
    }

    fn visit_item(&mut self, item: &'ast syn::Item) {
        if !attributes(item).is_some_and(for_tests) {
            visit::visit_item(self, item);
        }
    }

    fn visit_impl_item_fn(&mut self, function: &'ast syn::ImplItemFn) {
        if !for_tests(&function.attrs) {
            visit::visit_impl_item_fn(self, function);
        }
    }
}

fn circles_of(sources: &[(&str, &str)]) -> Vec<Vec<String>> {
    let sources = sources.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    circles(&Tree::read(&sources, "lib.rs").arrows())
}

#[test]
fn modules_that_use_each_other_are_found() {
    let direct = circles_of(&[
        ("lib.rs", "mod a; mod b;"),
        ("a.rs", "use crate::b::B; pub struct A(B);"),
        ("b.rs", "pub struct B; fn f(a: &super::a::A) {}"),
    ]);
    assert_eq!(direct, [["a -> b: crate::b::B", "b -> a: super::a::A"]]);
    let round_about = circles_of(&[
        ("lib.rs", "mod a; mod b; mod c; pub use c::C;"),
        ("a.rs", "use crate::b; pub fn f() { b::g(); }"),
        ("b.rs", "pub fn g() { let _ = crate::C; }"),
        ("c.rs", "pub struct C; fn h() { assert!(crate::a::f() == ()); }"),
    ]);
    assert_eq!(round_about, [["a -> b: b::g, crate::b", "b -> c: crate::C", "c -> a: crate::a::f"]]);
    let renamed = circles_of(&[
        ("lib.rs", "mod a; mod b;"),
        ("a.rs", "use crate::b as other; pub const A: u8 = other::B;"),
        ("b.rs", "use super::*; pub const B: u8 = 1; fn f() -> u8 { a::A }"),
    ]);
    assert_eq!(renamed.len(), 1, "{renamed:?}");
    let made_by_a_macro = circles_of(&[
        ("lib.rs", "mod a; mod b;"),
        ("a.rs", "use crate::b::B; words! { A { One = \"one\" } } pub struct With(B);"),
        ("b.rs", "pub struct B; fn f(_: crate::a::A) {}"),
    ]);
    assert_eq!(made_by_a_macro, [["a -> b: crate::b::B", "b -> a: crate::a::A"]]);
}

#[test]
fn a_child_that_uses_what_its_parent_defines_is_in_a_circle_when_the_parent_uses_the_child() {
    let parent = "mod child; pub struct P; fn f() { child::g(); }";
    let child = "use super::P; pub fn g() {} fn h(_: P) {}";
    let found = circles_of(&[("lib.rs", "mod a;"), ("a/mod.rs", parent), ("a/child.rs", child)]);
    assert_eq!(found, [["a -> a::child: child::g", "a::child -> a: super::P"]]);
    let named = "mod child; use child::g; pub struct P;";
    let found = circles_of(&[("lib.rs", "mod a;"), ("a/mod.rs", named), ("a/child.rs", child)]);
    assert_eq!(found, [["a -> a::child: child::g", "a::child -> a: super::P"]]);
}

#[test]
fn what_is_no_circle_is_let_be() {
    // A parent that declares and re-exports, and a child that uses what its parent defines.
    let facade = "mod child; mod other; pub use child::g; pub(crate) use other::*; pub struct P;";
    let child = "use super::P; use super::other::o; pub fn g() -> P { o(); P }";
    let other = "pub fn o() {}";
    let sources =
        [("lib.rs", "pub mod a;"), ("a/mod.rs", facade), ("a/child.rs", child), ("a/other.rs", other)];
    assert_eq!(circles_of(&sources), Vec::<Vec<String>>::new());
    // Through a facade an arrow leads to what is behind it.
    let sources = [
        ("lib.rs", "mod a; mod b; mod c; pub use a::A; pub use c::C;"),
        ("a.rs", "use crate::C; pub struct A(C);"),
        ("b.rs", "use crate::{A, C}; fn f(_: A, _: C) {}"),
        ("c.rs", "pub struct C;"),
    ];
    assert_eq!(circles_of(&sources), Vec::<Vec<String>>::new());
    // Tests, inline modules of one file, and crates and locals that are called like a module.
    let sources = [
        ("lib.rs", "mod a; mod b;"),
        ("a.rs", "use crate::b::B; mod inner { pub struct I; } pub struct A(B, inner::I);"),
        (
            "b.rs",
            "use ::a::X; pub struct B; fn f() { let a = 1; drop(a); }
             #[cfg(test)] mod tests { use crate::a::A; }
             #[cfg(test)] fn g(_: crate::a::A) {} #[test] fn h() { crate::a::f(); }",
        ),
    ];
    assert_eq!(circles_of(&sources), Vec::<Vec<String>>::new());
}

#[test]
fn no_two_modules_of_a_crate_use_each_other() {
    let mut crates: BTreeMap<String, Sources> = BTreeMap::new();
    for (file, text) in ["services", "schema"].iter().flat_map(|folder| files(folder, "rs")) {
        if let Some((name, within)) = file.split_once("/src/") {
            crates.entry(name.to_owned()).or_default().insert(within.to_owned(), text);
        }
    }
    assert!(crates.len() > 10, "{:?}", crates.keys());
    let (mut found, mut arrows) = (Vec::new(), 0);
    for (name, sources) in &crates {
        for root in ["lib.rs", "main.rs"].iter().filter(|root| sources.contains_key(**root)) {
            let tied = Tree::read(sources, root).arrows();
            arrows += tied.len();
            for circle in circles(&tied) {
                found.push(format!("{name}:\n    {}", circle.join("\n    ")));
            }
        }
    }
    assert!(arrows > 300, "the scan follows what is there: {arrows}");
    assert!(found.is_empty(), "{} circles:\n{}", found.len(), found.join("\n"));
}
